"""The first-order interval held against the Monte Carlo one, and when to speak of it.

JCGM 101:2008, clause 8, calls first order *validated* where both end points agree to
the numerical tolerance delta of u, at one or two significant digits. Taken as a
warning that would be noise. The two intervals differ for two kinds of reason:

* *Shape.* A rectangular influence ends where a normal one has tails, and a Student
  one has longer tails than k from the effective degrees of freedom gives. That is so
  in every job, it is understood, and the interval shown, by Monte Carlo, has it right.
  Of a *linear* model with one scatter of n readings and one rectangular gauge error,
  over sizes from a quarter to four to one and all leading digits of u, the verdict at
  one digit fails in 69 of 120 cases for n = 3 and in 39 for n = 5.
* *The model.* It bends within the uncertainty of its inputs, or multiplies two of
  them. Then value, u and budget, which stay first-order, mislead as well.

delta is also between a twentieth and half of u by the luck of the leading digit. So a
disagreement *means something*, and is said, where clause 8 fails at one digit **and**
the second-order terms matter: the mean is shifted, or u changed, by more than a
twentieth of u. The bare verdict of clause 8 stays in ``Comparison.validated``.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import fabs

from gaugelink.uncertainty.distribution import OutputDistribution
from gaugelink.uncertainty.estimate import Estimate
from gaugelink.uncertainty.second_order import SecondOrder
from gaugelink.uncertainty.tolerance import tolerance_of

SIGNIFICANT_DIGITS = 1
_ROUNDING = 1e-12  # part of a value below which a difference is float arithmetic


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """An output whose first-order interval the Monte Carlo interval does not confirm.

    ``low_difference`` and ``high_difference`` are the distances of the end points,
    ``tolerance`` the most that was allowed; all in the unit of the output.
    """

    output: str
    low_difference: float
    high_difference: float
    tolerance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """How far the two intervals of one output are apart, and whether the model bends."""

    disagreement: Disagreement
    bends: bool

    @property
    def validated(self) -> bool:
        """The verdict of JCGM 101:2008, clause 8, at one significant digit of u."""
        d = self.disagreement
        return max(d.low_difference, d.high_difference) <= d.tolerance

    @property
    def means_something(self) -> bool:
        """Whether the intervals differ, and do so because of the model."""
        return self.bends and not self.validated


def compare(
    first_order: Estimate, drawn: OutputDistribution, second: SecondOrder | None
) -> Comparison:
    """Compare the intervals of one output end point by end point: JCGM 101:2008, clause 8.

    Args:
        first_order: the output with its interval value +-k u.
        drawn: the same output by Monte Carlo.
        second: its second-order terms; None, no value near by, counts as bending.
    """
    # Where the first-order u vanishes (an even function at its turning point),
    # only the draws can say what is a small difference.
    u = first_order.u or drawn.std
    return Comparison(
        disagreement=Disagreement(
            output=first_order.label,
            low_difference=fabs(first_order.low - drawn.low),
            high_difference=fabs(first_order.high - drawn.high),
            tolerance=max(tolerance_of(u, SIGNIFICANT_DIGITS), _ROUNDING * fabs(first_order.value)),
        ),
        bends=second is None or second.matters,
    )
