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
  for a standard deviation known independently, against the mean of the others;
* and so far in terms of the scatter s that the rest *shows*, whatever sigma_r is: a hand
  that shakes twice as much as is assumed is a clean hand. Of n normal readings of any
  scatter, some m lie close together by chance, and then the k others lie far from them. That
  all k do so by more than q s sqrt(1 + 1/m) has, over all ways to choose them, at most the
  probability C(n, k) E[(2 Phi(-q s sqrt(1 + 1/m)))^k], s^2 being chi^2 / nu of nu = m - 1
  degrees of freedom; q is the one that makes this the level. For k = 1 that is Grubbs' test.
  The display rounds s away, so that step^2 / 12 is added to s^2.

What else the same gauge read in the same job shows how the hand scatters as well, s_o with
nu_o degrees of freedom. It is pooled with s, as in the moderated t of ``uncertainty.scatter``:
s^2 becomes (nu s^2 + nu_o s_o^2) / (nu + nu_o), and nu becomes nu + nu_o. Three readings of a
hand that six others show to be steady may so outweigh two. s_o is the median distance of all
those readings from the median of their series over that of a normal, 0.6745, which a fifth
of wrong readings hardly moves; it is worth 0.37 of the readings (P. J. Rousseeuw and C. Croux,
Journal of the American Statistical Association 88 (1993) 1273-1283, from memory), and no more
than 4 degrees of freedom, since one measurand is not held like another.

Where the rest scatters more than the gauge does (a hand that shakes, a part that is not
round) nothing is known beforehand, and this module has nothing to say. Nor has it where
readings that lie apart confirm each other, the only two or any three of more: blunders
seldom agree, and another width of a hub or another place of a strip does.

Where two other series show a steady hand, ``treatment`` with this rule finds six in ten wrong
readings among five of which a fifth are wrong, eight in ten among eight (``tests/coverage``).

How far apart the largest and the smallest of n normal values lie is known exactly:
P(W <= w) = n * integral of phi(x) [Phi(x + w) - Phi(x)]^(n - 1) dx for
the range W (H. A. David and H. N. Nagaraja, Order Statistics, 3rd ed. 2003,
section 2.3, from memory). The quantile at 95 % is the factor f(n) of the critical range
of ISO 5725-6, 5.2.2.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from statistics import median
from typing import NamedTuple

from gaugelink.statistics.moments import Side, mean, std
from gaugelink.statistics.outlier_method import Judged, JudgedSuspect
from gaugelink.statistics.student import normal_quantile

ALPHA = 0.001
SHOWN_ALPHA = 0.002  # of all series, for two readings and more, at the scatter shown
FEWEST_LEFT = 3
ENOUGH_TO_CONFIRM = 3
FEWEST_LEFT_OF_TWICE = 4  # where as many are set apart as are left
MOST_APART = 10  # as many as generalized ESD looks at: a long series costs no more than its length
# Of series that scatter by sigma_r, how many keep to the range by which the rest is held
# together, and by which readings apart confirm each other.
AGREEING = 0.85
CONFIRMING = 0.5


class ShownScatter(NamedTuple):
    """A scatter that other readings show: a standard deviation, with its degrees of freedom."""

    std: float
    dof: float


NONE_SHOWN = ShownScatter(std=0.0, dof=0.0)
_MEDIAN_OF_NORMAL = 0.6745
_WORTH_OF_MEDIAN = 0.37
MOST_DOF_OF_OTHERS = (
    4.0  # the scatter changes by 1.5 from one occasion to the next: common practice
)


def shown_by(others: Sequence[Sequence[float]], step: float) -> ShownScatter:
    """Return what scatter other series of the same hand and gauge show, in their unit.

    Args:
        others: the series, each of one measurand; wrong readings may be among them.
        step: display step in that unit.
    """
    away: list[float] = []
    for values in others:
        centre = median(values)
        away += sorted(abs(value - centre) for value in values)[1:]  # one says nothing
    if not away:
        return NONE_SHOWN
    dof = min(_WORTH_OF_MEDIAN * len(away), MOST_DOF_OF_OTHERS)
    return ShownScatter(
        std=math.hypot(median(away) / _MEDIAN_OF_NORMAL, step / math.sqrt(12.0)), dof=dof
    )


def apart_from_known(
    values: Sequence[float],
    scatter: float,
    side: Side,
    step: float = 0.0,
    others: ShownScatter = NONE_SHOWN,
) -> Judged:
    """Find the readings that a known scatter sets apart from the rest.

    Args:
        values: finite readings in one unit.
        scatter: standard deviation of a single reading, known beforehand, > 0.
        side: where a wrong reading is to be expected; only those are set apart.
        step: display step in that unit.
        others: what scatter other readings of the hand show.

    Returns:
        The readings, farthest first, each with its statistic; empty where all belong
        together, and where the rest does not keep to the scatter.

    >>> [s.index for s in apart_from_known([12.00, 12.01, 12.50, 12.00, 12.30], 0.01, Side.EITHER)]
    [2, 4]
    """
    n = len(values)
    order = _farthest_first(values, scatter, side)
    widest = range_quantile(AGREEING, n) * scatter  # of all; fewer keep to less
    for n_apart in range(min(most_apart(n), len(order)) + 1):
        apart = order[:n_apart]
        left_out = frozenset(apart)
        rest = [value for i, value in enumerate(values) if i not in left_out]
        if max(rest) - min(rest) <= widest and _agree(rest, scatter, AGREEING):
            confirmed = _confirm_each_other([values[i] for i in apart], scatter)
            if confirmed or not apart:
                return ()
            shown = _pooled(rest, step, others)
            return _judged(values, apart, rest, scatter, side, shown)
    return ()


def test_name(side: Side) -> str:
    """Name the test on a side, as a mark bears it."""
    return f"known-scatter-{'two' if side is Side.EITHER else 'one'}-sided"


def most_apart(n: int) -> int:
    """Return how many of n readings may be set apart.

    >>> [most_apart(n) for n in (3, 5, 6, 7, 8, 12)]
    [0, 2, 2, 3, 4, 6]
    """
    if n >= 2 * FEWEST_LEFT_OF_TWICE:
        return min(n // 2, MOST_APART)
    return max(min((n - 1) // 2, n - FEWEST_LEFT), 0)


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


def _pooled(rest: Sequence[float], step: float, others: ShownScatter) -> ShownScatter:
    own, dof = math.hypot(std(rest), step / math.sqrt(12.0)), len(rest) - 1
    square = (dof * own**2 + others.dof * others.std**2) / (dof + others.dof)
    return ShownScatter(std=math.sqrt(square), dof=dof + others.dof)


def _judged(
    values: Sequence[float],
    apart: Sequence[int],
    rest: Sequence[float],
    scatter: float,
    side: Side,
    shown: ShownScatter,
) -> Judged:
    """Hold readings against what is known, and against what is shown, in terms of what is known."""
    sides = 2 if side is Side.EITHER else 1
    known = normal_quantile(1.0 - ALPHA / (sides * len(values)))
    in_shown = shown_critical(len(values), len(apart), sides, min(round(shown.dof, 1), _MOST_DOF))
    critical_value = max(known, in_shown * shown.std / scatter)
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


_LOG_STEP = 0.1
_LOG_SCATTERS = tuple(_LOG_STEP * i for i in range(-100, 16))  # ln(s / sigma)
_MOST_DOF = 100.0  # more is a scatter that is known, and would need a finer step


@lru_cache(maxsize=256)
def shown_critical(n: int, n_apart: int, sides: int, dof: float) -> float:
    """Return q: how many s sqrt(1 + 1/m) all readings set apart must lie from the mean of the rest.

    The equation stands at the top of this module. One reading is held to ``ALPHA``, the numbers
    from two on share ``SHOWN_ALPHA``.

    Args:
        n: number of readings.
        n_apart: how many are set apart, 1 or more; three at least are left.
        sides: 2 where a wrong reading may lie on either side, else 1.
        dof: degrees of freedom of s, above zero.

    >>> round(shown_critical(5, 1, 2, 3.0), 2)  # t of 3 degrees of freedom at 0.001 / 10
    22.2
    """
    level = ALPHA if n_apart == 1 else SHOWN_ALPHA / (most_apart(n) - 1)
    target = math.log(level / math.comb(n, n_apart))

    def too_seldom(log_q: float) -> float:
        return target - _log_all_beyond(math.exp(log_q), dof, n_apart, sides)

    return math.exp(_crossing(too_seldom, 0.0, 7.0))


def _log_all_beyond(q: float, dof: float, n_apart: int, sides: int) -> float:
    """Return ln E[(sides Phi(-q s))^n_apart], s^2 being chi^2 / dof.

    The trapezoidal rule in ln s, where the integrand vanishes at both ends.
    """
    a = dof / 2.0
    scale = 2.0 * math.exp(a * math.log(a) - math.lgamma(a)) * _LOG_STEP
    return math.log(
        scale
        * math.fsum(
            math.exp(2.0 * a * u - a * math.exp(2.0 * u))
            * (sides * math.erfc(q * math.exp(u) / _ROOT_2) / 2.0) ** n_apart
            for u in _LOG_SCATTERS
        )
    )


_REACH = 8.5  # beyond, the normal density is below 1e-16
_PANELS = 100
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
    return _crossing(lambda w: range_cdf(w, n) - p, 0.0, 2.0 * _REACH)


_CLOSE = 1e-10
_MOST_TRIES = 100


def _crossing(rising: Callable[[float], float], low: float, high: float) -> float:
    """Return where a rising function crosses zero between two points, by regula falsi.

    The Illinois rule halves the value at an end that stays twice, so that it moves: M. Dowell
    and P. Jarratt, BIT 11 (1971) 168-174 (from memory).
    """
    at_low, at_high = rising(low), rising(high)
    at, moved = low, 0
    for _ in range(_MOST_TRIES):
        before, at = at, high - at_high * (high - low) / (at_high - at_low)
        found = rising(at)
        if abs(at - before) < _CLOSE or found == 0.0:
            break
        if found > 0.0:
            high, at_high = at, found
            at_low, moved = at_low / (2.0 if moved > 0 else 1.0), 1
        else:
            low, at_low = at, found
            at_high, moved = at_high / (2.0 if moved < 0 else 1.0), -1
    return at


def _density(x: float) -> float:
    return math.exp(-x * x / 2.0) / math.sqrt(2.0 * math.pi)


def _between(low: float, high: float) -> float:
    return (math.erf(high / _ROOT_2) - math.erf(low / _ROOT_2)) / 2.0
