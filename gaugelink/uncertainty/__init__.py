"""How far off a measured or computed number may be.

A measured quantity is a best value plus a sum of independent influences: the
scatter of the readings, the digital step, the error of the gauge, the drift of
its zero. Two quantities taken with one gauge hold the same influence, so what
they have in common moves them together and no correlation matrix is needed.

``evaluate`` walks those influences twice: to first order (JCGM 100:2008, the
GUM), which gives the budget, and by Monte Carlo (JCGM 101:2008), which gives the
coverage interval. What first order leaves out is reported beside it, and where the
two disagree because of that, it says so. ``conformity`` turns an estimate or its draws
into the probability that it lies within limits.
"""

from gaugelink.uncertainty.adaptive import Adaptive
from gaugelink.uncertainty.comparison import Comparison, Disagreement
from gaugelink.uncertainty.conformity import (
    Limits,
    Verdict,
    acceptance_zone,
    guard_band,
    probability_above,
    probability_below,
    probability_within,
    verdict,
)
from gaugelink.uncertainty.coverage import coverage_factor, welch_satterthwaite
from gaugelink.uncertainty.distribution import OutputDistribution, Simulation
from gaugelink.uncertainty.estimate import (
    BudgetRow,
    Estimate,
    Influence,
    Model,
    Quantity,
    Shape,
    Term,
)
from gaugelink.uncertainty.evaluate import Evaluation, evaluate
from gaugelink.uncertainty.first_order import LinearOutput, correlation, propagate
from gaugelink.uncertainty.intervals import Interval
from gaugelink.uncertainty.measurand import Face, quantity_from_summary, quantity_from_typed
from gaugelink.uncertainty.monte_carlo import draw_blocks, run_simulation, simulate
from gaugelink.uncertainty.second_order import SecondOrder, SecondOrderTerm, second_order
from gaugelink.uncertainty.zero import ZeroCheck

__all__ = [
    "Adaptive",
    "BudgetRow",
    "Comparison",
    "Disagreement",
    "Estimate",
    "Evaluation",
    "Face",
    "Influence",
    "Interval",
    "Limits",
    "LinearOutput",
    "Model",
    "OutputDistribution",
    "Quantity",
    "SecondOrder",
    "SecondOrderTerm",
    "Shape",
    "Simulation",
    "Term",
    "Verdict",
    "ZeroCheck",
    "acceptance_zone",
    "correlation",
    "coverage_factor",
    "draw_blocks",
    "evaluate",
    "guard_band",
    "probability_above",
    "probability_below",
    "probability_within",
    "propagate",
    "quantity_from_summary",
    "quantity_from_typed",
    "run_simulation",
    "second_order",
    "simulate",
    "verdict",
    "welch_satterthwaite",
]
