"""How far off a measured or computed number may be.

A measured quantity is a best value plus a sum of independent influences: the
scatter of the readings, the digital step, the error of the gauge, the drift of
its zero. Two quantities taken with one gauge hold the same influence, so what
they have in common moves them together and no correlation matrix is needed.

``evaluate`` walks those influences twice: to first order (JCGM 100:2008, the
GUM), which gives the budget, and by Monte Carlo (JCGM 101:2008), which gives the
coverage interval. Where the two disagree, it says so.
"""

from gaugelink.uncertainty.coverage import coverage_factor, welch_satterthwaite
from gaugelink.uncertainty.estimate import (
    BudgetRow,
    Estimate,
    Influence,
    Model,
    Quantity,
    Shape,
    Term,
)
from gaugelink.uncertainty.evaluate import Disagreement, Evaluation, evaluate
from gaugelink.uncertainty.first_order import LinearOutput, correlation, propagate
from gaugelink.uncertainty.measurand import (
    Face,
    ZeroCheck,
    quantity_from_summary,
    quantity_from_typed,
)
from gaugelink.uncertainty.monte_carlo import OutputDistribution, draw_blocks, simulate

__all__ = [
    "BudgetRow",
    "Disagreement",
    "Estimate",
    "Evaluation",
    "Face",
    "Influence",
    "LinearOutput",
    "Model",
    "OutputDistribution",
    "Quantity",
    "Shape",
    "Term",
    "ZeroCheck",
    "correlation",
    "coverage_factor",
    "draw_blocks",
    "evaluate",
    "propagate",
    "quantity_from_summary",
    "quantity_from_typed",
    "simulate",
    "welch_satterthwaite",
]
