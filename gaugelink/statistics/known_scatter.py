"""Readings that do not belong to the rest, told by a scatter that is known beforehand.

Five readings cannot tell by themselves whether two of them are wrong: their own s holds
the wrong ones, and what is left without them is too little to judge by. A gauge brings
more knowledge than that: it repeats to about one display step. Readings are set apart
where

* the rest, three readings and more than half of all, or four and half, keeps to that
  scatter: its range is within the critical range f(m) sigma_r of ISO 5725-6, 5.2.2. That
  standard takes f at 95 %; here it is 85 %, because sigma_r is the most that a sound gauge
  shows, and widths of a hub that rises like a snail may lie close together by chance;
* each reading set apart lies so far from the mean of that rest that normal scatter of
  sigma_r brings one such about in fewer than one series in a thousand:
  abs(x - mean) / (sigma_r sqrt(1 + 1/m)) > z(1 - alpha / (2 n)), the test of ASTM E178
  for a standard deviation known independently, against the mean of the others.

Where the rest scatters more than the gauge does (a hand that shakes, a part that is not
round) nothing is known beforehand, and this module has nothing to say. Nor has it where
readings that lie apart confirm each other, the only two or any three of more: blunders
seldom agree, and another width of a hub or another place of a strip does.

Among 3 to 12 readings of which a fifth are wrong by 5 to 30 steps, ``treatment`` with
this rule finds four of five wrong readings; the test of single readings alone finds one
in four, since two wrong ones hide one another. ``tests/coverage`` has the figures.

How far apart the largest and the smallest of n normal values lie is known exactly:
P(W <= w) = n * integral of phi(x) [Phi(x + w) - Phi(x)]^(n - 1) dx for
the range W (H. A. David and H. N. Nagaraja, Order Statistics, 3rd ed. 2003,
section 2.3, from memory). The quantile at 95 % is the factor f(n) of the critical range
of ISO 5725-6, 5.2.2.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from statistics import median

from gaugelink.statistics.moments import Side, mean
from gaugelink.statistics.outlier_method import Judged, JudgedSuspect
from gaugelink.statistics.student import normal_quantile

ALPHA = 0.001
FEWEST_LEFT = 3
ENOUGH_TO_CONFIRM = 3
FEWEST_LEFT_OF_TWICE = 4  # where as many are set apart as are left
# Of series that scatter by sigma_r, how many keep to the range by which the rest is held
# together, and by which readings apart confirm each other.
AGREEING = 0.85
CONFIRMING = 0.5


def one_apart(values: Sequence[float], scatter: float) -> float | None:
    """Return the one reading, on either side, that all others agree against; None without one.

    A part that is not round shows readings between its largest and its smallest, and a second one
    there; one alone is a slip first.

    Args:
        values: finite readings in one unit.
        scatter: as for ``apart_from_known``.
    """
    apart = apart_from_known(values, scatter, Side.EITHER)
    return apart[0].value if len(apart) == 1 else None


def apart_from_known(values: Sequence[float], scatter: float, side: Side) -> Judged:
    """Find the readings that a known scatter sets apart from the rest.

    Args:
        values: finite readings in one unit.
        scatter: standard deviation of a single reading, known beforehand, > 0.
        side: where a wrong reading is to be expected; only those are set apart.

    Returns:
        The readings, farthest first, each with its statistic; empty where all belong
        together, and where the rest does not keep to the scatter.

    >>> [s.index for s in apart_from_known([12.00, 12.01, 12.50, 12.00, 12.30], 0.01, Side.EITHER)]
    [2, 4]
    """
    n = len(values)
    order = _farthest_first(values, scatter, side)
    for n_apart in range(min(most_apart(n), len(order)) + 1):
        apart = order[:n_apart]
        rest = [value for i, value in enumerate(values) if i not in apart]
        if _agree(rest, scatter, AGREEING):
            confirmed = _confirm_each_other([values[i] for i in apart], scatter)
            return () if confirmed else _judged(values, apart, rest, scatter, side)
    return ()


def test_name(side: Side) -> str:
    """Name the test on a side, as a mark bears it."""
    return f"known-scatter-{'two' if side is Side.EITHER else 'one'}-sided"


def most_apart(n: int) -> int:
    """Return how many of n readings may be set apart.

    >>> [most_apart(n) for n in (3, 5, 6, 7, 8, 12)]
    [0, 2, 2, 3, 4, 6]
    """
    return n // 2 if n >= 2 * FEWEST_LEFT_OF_TWICE else max(min((n - 1) // 2, n - FEWEST_LEFT), 0)


def _farthest_first(values: Sequence[float], scatter: float, side: Side) -> list[int]:
    """Positions on the wrong side of the median; of two equally far the larger value first."""
    centre = median(values)
    far = {i: round(side.beyond(value - centre) / scatter, 6) for i, value in enumerate(values)}
    return sorted((i for i in far if far[i] > 0.0), key=lambda i: (-far[i], -values[i]))


def _agree(values: Sequence[float], scatter: float, share: float) -> bool:
    return max(values) - min(values) <= range_quantile(share, len(values)) * scatter


def _confirm_each_other(values: Sequence[float], scatter: float) -> bool:
    """Whether both of two values agree, or any three of more."""
    ordered = sorted(values)
    size = min(len(ordered), ENOUGH_TO_CONFIRM)
    starts = range(len(ordered) - size + 1)
    return size > 1 and any(_agree(ordered[i : i + size], scatter, CONFIRMING) for i in starts)


def _judged(
    values: Sequence[float], apart: Sequence[int], rest: Sequence[float], scatter: float, side: Side
) -> Judged:
    tail = ALPHA / (2 * len(values) if side is Side.EITHER else len(values))
    critical_value = normal_quantile(1.0 - tail)
    unit = scatter * math.sqrt(1.0 + 1.0 / len(rest))
    centre = mean(rest)
    suspects = tuple(
        JudgedSuspect(
            index=i,
            value=values[i],
            statistic=side.beyond(values[i] - centre) / unit,
            critical_value=critical_value,
        )
        for i in apart
    )
    return suspects if all(suspect.exceeds for suspect in suspects) else ()


_REACH = 8.5  # beyond, the normal density is below 1e-16
_PANELS = 340
_ROOT_2 = math.sqrt(2.0)


def range_cdf(w: float, n: int) -> float:
    """Return P(W <= w) for the range of n standard normal values, a probability.

    Args:
        w: range, in standard deviations; >= 0.
        n: number of values, 2 or more.

    >>> round(range_cdf(2.772, 2), 4)
    0.95
    """
    step = 2.0 * _REACH / _PANELS
    abscissas = (i * step - _REACH for i in range(_PANELS + 1))
    # The integrand and all its derivatives vanish at both ends: there the trapezoid
    # rule converges faster than any power of the step.
    return n * step * math.fsum(_density(x) * _between(x, x + w) ** (n - 1) for x in abscissas)


@lru_cache(maxsize=256)
def range_quantile(p: float, n: int) -> float:
    """Return w with P(W <= w) = p for the range of n standard normal values.

    Raises:
        ValueError: n is below 2 or p is not between 0 and 1.

    >>> [round(range_quantile(0.95, n), 1) for n in (2, 3, 4, 5)]  # ISO 5725-6
    [2.8, 3.3, 3.6, 3.9]
    """
    if n < 2 or not 0.0 < p < 1.0:
        raise ValueError(f"no range has a quantile at {p} of {n} values")
    low, high = 0.0, 2.0 * _REACH
    while high - low > 1e-9:
        middle = (low + high) / 2.0
        low, high = (middle, high) if range_cdf(middle, n) < p else (low, middle)
    return (low + high) / 2.0


def _density(x: float) -> float:
    return math.exp(-x * x / 2.0) / math.sqrt(2.0 * math.pi)


def _between(low: float, high: float) -> float:
    return (math.erf(high / _ROOT_2) - math.erf(low / _ROOT_2)) / 2.0
