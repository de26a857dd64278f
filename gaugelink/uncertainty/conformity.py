"""How likely a quantity lies below, above or within limits, and when that is proven.

What is known of the quantity comes in either of two forms: an ``Estimate``, taken as
normal or, with finite degrees of freedom, as Student's t about its value; or the Monte
Carlo draws of it, taken as they are. A draw without a finite value lies within nothing.

JCGM 106:2012, clause 7, gives the probabilities; ISO 14253-1:2017 the rule that
conformity is proven at 95 %, non-conformity as well, and that between the two neither
is (both from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from gaugelink.errors import InputError
from gaugelink.statistics.student import t_cdf, t_quantile
from gaugelink.uncertainty.coverage import check_coverage
from gaugelink.uncertainty.estimate import Estimate

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array

    Known: TypeAlias = Estimate | Array

PROVEN = 0.95  # ISO 14253-1


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A zone of values in the unit of the quantity; an infinite end is not a limit."""

    low: float = -math.inf
    high: float = math.inf

    def __post_init__(self) -> None:
        """Refuse a zone that holds nothing."""
        if not self.low < self.high:
            raise InputError(
                f"No value lies between {self.low:g} and {self.high:g}.",
                hint="Give the lower limit first, and limits that the uncertainty leaves apart.",
            )


def probability_below(known: Known, limit: float) -> float:
    """Compute the probability that a quantity is below a limit.

    F((limit - value) / u), F the normal distribution or Student's t: JCGM 106, clause 7.

    Args:
        known: an estimate, or Monte Carlo draws of the quantity.
        limit: the limit, in the same unit; may be infinite.
    """
    return probability_within(known, Zone(high=limit)) if limit > -math.inf else 0.0


def probability_above(known: Known, limit: float) -> float:
    """Compute the probability that a quantity is above a limit."""
    return probability_within(known, Zone(low=limit)) if limit < math.inf else 0.0


def probability_within(known: Known, limits: Zone) -> float:
    """Compute the conformance probability: that a quantity lies within limits.

    F((high - value) / u) - F((low - value) / u), JCGM 106, clause 7; for draws the share of
    them from ``low`` to ``high``. An exact value on a limit lies within.
    """
    if not isinstance(known, Estimate):
        finite = abs(known) < math.inf
        return float(((known >= limits.low) & (known <= limits.high) & finite).mean())
    if known.u == 0.0:
        return float(limits.low <= known.value <= limits.high)
    a, b = (limits.low - known.value) / known.u, (limits.high - known.value) / known.u
    if a > 0.0:  # mirrored, so that a small probability keeps its digits
        a, b = -b, -a
    if b <= 0.0:
        return t_cdf(b, known.dof) - t_cdf(a, known.dof)
    return 1.0 - t_cdf(a, known.dof) - t_cdf(-b, known.dof)


def guard_band(u: float, *, dof: float = math.inf, probability: float = PROVEN) -> float:
    """Compute the guard band against one limit, in the unit of u.

    g = z u with z the one-sided quantile: 1.645 u at 95 %, for which ISO 14253-1 prints
    1.65 u. It holds at each of two limits that are at least some 4 u apart.

    Args:
        u: standard uncertainty, not negative.
        dof: its degrees of freedom.
        probability: that a value on the guard band conforms, above 0.5.

    >>> round(guard_band(0.01), 5)
    0.01645
    """
    check_coverage(probability)
    return t_quantile(probability, dof) * u
