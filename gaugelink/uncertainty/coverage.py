"""From standard uncertainty, or from draws, to a coverage interval."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from gaugelink.errors import InputError
from gaugelink.statistics.student import t_quantile

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array
# An output with a single influence must keep its whole degrees of freedom: 4 may
# come out of the formula as 3.9999999999999996, which must not truncate to 3.
_ROUNDING = 1e-9


_NEAREST = 1e-9  # nearer to 0 or 1 a coverage factor has no digit left


def check_coverage(coverage: float) -> None:
    """Refuse a coverage probability that is not between 0 and 1, or too near to either.

    Raises:
        InputError: it is not.
    """
    if not _NEAREST < coverage < 1.0 - _NEAREST:
        raise InputError(
            f"The coverage must be between 0 and 1, not {coverage:g}.",
            hint="Give a number between 0 and 1, such as 0.95.",
        )


def welch_satterthwaite(contributions: Sequence[float], dofs: Sequence[float]) -> float:
    """Return the effective degrees of freedom of a combined standard uncertainty.

    nu_eff = u_c^4 / sum(u_i^4 / nu_i), with u_c^2 = sum(u_i^2): the
    Welch-Satterthwaite formula, GUM G.4.1 equation (G.2b). It holds for
    independent contributions only.

    Args:
        contributions: |sensitivity| x standard uncertainty of each influence.
        dofs: degrees of freedom of each, ``math.inf`` where u is taken as known.

    Returns:
        The effective degrees of freedom, ``math.inf`` if no contribution is finite in them.
    """
    largest = max(contributions, default=0.0)
    if largest == 0.0:
        return math.inf
    variances = [(u / largest) ** 2 for u in contributions]  # scaled, so that none underflows
    weighted = math.fsum(v * v / dof for v, dof in zip(variances, dofs, strict=True))
    return math.fsum(variances) ** 2 / weighted if weighted > 0.0 else math.inf


def coverage_factor(coverage: float, dof: float) -> float:
    """Return the k that makes +-k u a two-sided interval with the given coverage.

    k = t_p(nu), GUM G.3.2 and Table G.2, with nu truncated to the next lower integer before the
    look-up, GUM G.4.1 note 1. ``dof`` may be ``math.inf``.

    Raises:
        InputError: the coverage is not between 0 and 1, or dof is below 1.
    """
    check_coverage(coverage)
    if not dof * (1.0 + _ROUNDING) >= 1.0:
        raise InputError(
            f"No coverage factor exists for {dof:g} degrees of freedom.",
            hint="Take at least two readings.",
        )
    whole = dof if math.isinf(dof) else math.floor(dof * (1.0 + _ROUNDING))
    return t_quantile((1.0 + coverage) / 2.0, whole)


def interval_of(row: Array, coverage: float) -> tuple[float, float]:
    """Return the ends of the probabilistically symmetric coverage interval: JCGM 101:2008, 7.7.2.

    The order statistics y_(r) and y_(r+q) of M draws, q = pM apart, with equal tails.

    Args:
        row: finite draws, one or more; they are reordered.
        coverage: coverage probability p, between 0 and 1.
    """
    return order_statistics(row, *interval_positions(row.size, coverage))


def interval_positions(draws: int, coverage: float) -> tuple[int, int]:
    """Return where the ends of the interval lie among so many draws in order, from 0."""
    q = math.floor(coverage * draws + 0.5)
    r = max(math.floor((draws - q + 1) / 2), 1)
    return r - 1, min(r + q, draws) - 1


def order_statistics(row: Array, low: int, high: int) -> tuple[float, float]:
    """Return the draws at two positions in order, ``low`` the first; the draws are reordered."""
    # One position at a time: numpy selects a single one with vector instructions,
    # two at once without, which takes three times as long.
    row.partition(low)
    if high > low:
        row[low + 1 :].partition(high - low - 1)
    return float(row[low]), float(row[high])
