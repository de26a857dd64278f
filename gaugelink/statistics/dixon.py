"""Dixon's ratios for one outlying value: a gap at the end of the sample over its range.

W. J. Dixon, Annals of Mathematical Statistics 22 (1951) 68-78. With the values in
rising order, for a suspect at the high end (mirrored for the low end)::

    r10 = (x_n - x_{n-1}) / (x_n - x_1)      3 to  7 values
    r11 = (x_n - x_{n-1}) / (x_n - x_2)      8 to 10
    r21 = (x_n - x_{n-2}) / (x_n - x_2)     11 to 13
    r22 = (x_n - x_{n-2}) / (x_n - x_3)     14 to 30

The second figure leaves out that many values at the far end, and r2x looks past a
second value at the near end, so that a second outlier does not hide the first.

Critical values are computed from the exact distribution: published tables differ by
up to 0.005 from it, and copies of them carry misprints. They come *one-sided*, for an
end chosen beforehand; a suspect taken from whichever end has the larger ratio needs
the one-sided value of half the level (D. B. Rorabacher, Analytical Chemistry 63
(1991) 139-146). The two are the commonest thing to mix up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from gaugelink.statistics.side import Side
from gaugelink.statistics.suspects import Suspect

FEWEST_VALUES = 3
MOST_VALUES = 30  # as far as Dixon's table goes

# The trapezoidal rule for the largest value and for the logarithm of its distance to
# the far end: at these steps the critical values are right to 1e-7.
_STEP, _FIRST, _LAST = 0.25, -6.0, 8.5
_LOG_STEP, _LOG_FIRST, _LOG_LAST = 0.15, -9.0, 2.8
_LEAST_WEIGHT = 1e-14
_HALVINGS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class DixonRatio:
    """Which ratio: how many values it looks past at the suspect's end and at the far end."""

    near: int
    far: int

    @property
    def name(self) -> str:
        """The name in the literature, ``r10`` and so on."""
        return f"r{self.near}{self.far}"

    def of(self, falling: Sequence[float]) -> float:
        """Compute the ratio of the first value; the values fall or rise from it."""
        return (falling[0] - falling[self.near]) / (falling[0] - falling[-1 - self.far])


def dixon_ratio(n: int) -> DixonRatio:
    """Choose the ratio for a number of values, as Dixon recommends.

    Args:
        n: number of values, 3 to 30.

    Raises:
        ValueError: n is out of range.

    >>> [dixon_ratio(n).name for n in (7, 8, 11, 14)]
    ['r10', 'r11', 'r21', 'r22']
    """
    if not FEWEST_VALUES <= n <= MOST_VALUES:
        raise ValueError(f"Dixon's test takes {FEWEST_VALUES} to {MOST_VALUES} values, not {n}")
    return DixonRatio(near=1 if n <= 10 else 2, far=0 if n <= 7 else 1 if n <= 13 else 2)


def dixon_suspect(values: Sequence[float], side: Side = Side.EITHER) -> Suspect | None:
    """Find the value at the end with the larger ratio, and that ratio, a pure number.

    Args:
        values: 3 to 30 finite numbers in one unit.
        side: which end to look at.

    Returns:
        The suspect, of two equal ratios the high one; None when all values, but for
        those that the ratio looks past, are equal.

    Raises:
        ValueError: too few or too many values.

    >>> dixon_suspect([12.01, 12.02, 12.00, 12.01, 12.50]).index
    4
    """
    ratio = dixon_ratio(len(values))
    order = sorted(range(len(values)), key=lambda i: values[i])
    ends = {Side.LOW: order, Side.HIGH: order[::-1]}
    wanted = [ends[side]] if side in ends else [ends[Side.HIGH], ends[Side.LOW]]
    suspects = [suspect for end in wanted if (suspect := _suspect(values, end, ratio)) is not None]
    return max(suspects, key=lambda suspect: suspect.statistic, default=None)


def _suspect(values: Sequence[float], order: Sequence[int], ratio: DixonRatio) -> Suspect | None:
    ordered = [values[i] for i in order]
    if ordered[0] == ordered[-1 - ratio.far]:
        return None
    return Suspect(index=order[0], value=ordered[0], statistic=ratio.of(ordered))


@lru_cache(maxsize=256)
def dixon_critical(
    n: int, alpha: float, *, two_sided: bool = True, ratio: DixonRatio | None = None
) -> float:
    """Compute the critical value of Dixon's ratio, a pure number, right to 1e-7.

    Two-sided is the one-sided value of alpha / 2; as both ends may exceed it at once,
    the level is then alpha at most.

    Args:
        n: number of values, 3 to 30.
        alpha: significance level, 0 < alpha < 1.
        two_sided: whether the suspect may lie at either end.
        ratio: another ratio than the recommended one.

    Returns:
        The value that the ratio must exceed.

    Raises:
        ValueError: n or alpha is out of range, or n is too small for the ratio.

    >>> round(dixon_critical(7, 0.05, two_sided=False), 3)
    0.507
    """
    if not 0.0 < alpha < 1.0:
        raise ValueError(f"a significance level between 0 and 1 is needed, not {alpha}")
    chosen = dixon_ratio(n) if ratio is None else ratio
    if n < chosen.near + chosen.far + 2:
        raise ValueError(f"{chosen.name} needs more than {n} values")
    target = alpha / 2.0 if two_sided else alpha
    points = _points(n, chosen.far)
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        if _tail(middle, points, chosen.near, n - chosen.far - 2) > target:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


@dataclass(frozen=True, slots=True)
class _Point:
    """One point of the integration: largest value, range, their normal integrals, weight."""

    largest: float
    span: float
    below_largest: float
    below_far: float
    weight: float


@lru_cache(maxsize=8)
def _points(n: int, far: int) -> tuple[_Point, ...]:
    """Spread points over the joint density of the largest and the (far + 1)th smallest value."""
    scale = math.factorial(n) / (math.factorial(far) * math.factorial(n - far - 2))
    spans = [math.exp(s) for s in _grid(_LOG_FIRST, _LOG_LAST, _LOG_STEP)]
    found = []
    for largest in _grid(_FIRST, _LAST, _STEP):
        front = scale * _density(largest) * _STEP * _LOG_STEP
        below_largest = _normal_cdf(largest)
        for span in spans:
            below_far = _normal_cdf(largest - span)
            weight = front * span * _density(largest - span) * below_far**far
            if weight > _LEAST_WEIGHT:
                found.append(_Point(largest, span, below_largest, below_far, weight))
    return tuple(found)


def _tail(r: float, points: Sequence[_Point], near: int, between: int) -> float:
    """Return P(ratio > r): at most near - 1 of the values between come within r x span."""
    total = 0.0
    for point in points:
        below = _normal_cdf(point.largest - r * point.span)
        inner = below - point.below_far
        chance = inner**between
        if near == 2:
            chance += between * inner ** (between - 1) * (point.below_largest - below)
        total += point.weight * chance
    return total


def _grid(first: float, last: float, step: float) -> list[float]:
    return [first + k * step for k in range(round((last - first) / step) + 1)]


def _density(x: float) -> float:
    return math.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)


def _normal_cdf(x: float) -> float:
    return 0.5 * math.erfc(-x / math.sqrt(2.0))
