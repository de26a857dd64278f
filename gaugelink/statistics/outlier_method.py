"""The tests for outlying readings that may be chosen, and how far each may go.

========  =========  ==========================================  =================
method    readings   test                                        most rejected
========  =========  ==========================================  =================
grubbs    5 to 14    Grubbs for one                              1
grubbs    15 on      generalized ESD                             a fifth, never 10+
dixon     5 to 30    Dixon's r10, r11, r21 or r22 for one        1
esd       5 on       generalized ESD                             a fifth, never 10+
none      any        none                                        0
========  =========  ==========================================  =================

Beside any test but none, ``known_scatter`` may set up to half of 5 readings or more apart.
Each is run at a stated level on a stated side; whether a significant reading is then
rejected is for ``treatment`` to say. Critical values are computed, not tabulated: public
copies of the tables carry misprints.

**Grubbs** for one value: F. E. Grubbs, Technometrics 11 (1969) 1-21; NIST/SEMATECH e-Handbook
of Statistical Methods, 1.3.5.17.1. The formula is exact to the digits of the tables.

**Generalized extreme studentized deviate** for several: B. Rosner, Technometrics 25 (1983)
165-172; NIST/SEMATECH e-Handbook, 1.3.5.17.3. The most extreme value is taken out, then the
most extreme of the rest, up to a limit set beforehand. The number of outliers is
the *largest* i whose statistic exceeds its critical value. Stopping at the first
that does not would miss outliers that hide one another: two far values widen s
until neither stands out alone.

**Dixon** for one: a gap at the end of the sample over its range. W. J. Dixon, Annals of
Mathematical Statistics 22 (1951) 68-78. With the values in rising order, for a suspect at the
high end (mirrored for the low end)::

    r10 = (x_n - x_{n-1}) / (x_n - x_1)      3 to  7 values
    r11 = (x_n - x_{n-1}) / (x_n - x_2)      8 to 10
    r21 = (x_n - x_{n-2}) / (x_n - x_2)     11 to 13
    r22 = (x_n - x_{n-2}) / (x_n - x_3)     14 to 30

The second figure leaves out that many values at the far end, and r2x looks past a
second value at the near end, so that a second outlier does not hide the first. The published
tables differ by up to 0.005 from the exact distribution. They come *one-sided*, for an
end chosen beforehand; a suspect taken from whichever end has the larger ratio needs
the one-sided value of half the level (D. B. Rorabacher, Analytical Chemistry 63
(1991) 139-146). The two are the commonest thing to mix up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import NamedTuple, TypeAlias

from gaugelink.errors import StatisticsError
from gaugelink.statistics.moments import Side, mean, std
from gaugelink.statistics.student import t_quantile

FEWEST_FOR_ESD = 15
MOST_OUTLIERS = 10


class OutlierMethod(StrEnum):
    """Which test looks for outlying readings."""

    GRUBBS = "grubbs"
    DIXON = "dixon"
    ESD = "esd"
    NONE = "none"

    def most_rejected(self, n: int) -> int:
        """Return how many of n readings may be rejected at most."""
        if self is OutlierMethod.NONE:
            return 0
        if self is OutlierMethod.DIXON or (self is OutlierMethod.GRUBBS and n < FEWEST_FOR_ESD):
            return 1
        return min(n // 5, MOST_OUTLIERS)

    def most_suspects(self, n: int) -> int:
        """Return how many of n readings are looked at: two at least, where the test can."""
        most = self.most_rejected(n)
        sees_one = self in (OutlierMethod.DIXON, OutlierMethod.NONE)
        return most if sees_one else max(most, 2)

    def steps(self, values: Sequence[float], most: int, alpha: float, side: Side) -> Judged:
        """Look at the most extreme values one by one and hold each against its critical value.

        Args:
            values: five or more finite readings.
            most: how many to look at.
            alpha: significance level; two-sided for ``Side.EITHER``, else one-sided.
            side: where to look.

        Raises:
            StatisticsError: more readings than Dixon's test takes.
        """
        if self is OutlierMethod.DIXON:
            return _dixon_steps(values, alpha, side)
        return esd_steps(values, most, alpha, side)

    def test_name(self, n: int, n_found: int, side: Side) -> str:
        """Name the test that found ``n_found`` of n readings on a side."""
        sides = "two-sided" if side is Side.EITHER else "one-sided"
        if self is OutlierMethod.DIXON:
            return f"dixon-{dixon_ratio(n).name}-{sides}"
        if n_found == 1 and self.most_rejected(n) == 1:
            return f"grubbs-{sides}"
        return "generalized-esd" if side is Side.EITHER else f"generalized-esd-{sides}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """The value that a test looks at: its position in the sample, and the statistic of it."""

    index: int
    value: float
    statistic: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedSuspect:
    """A suspect with the critical value that its statistic is held against."""

    index: int
    value: float
    statistic: float
    critical_value: float

    @property
    def exceeds(self) -> bool:
        """Whether the statistic is larger than its critical value."""
        return self.statistic > self.critical_value


Judged: TypeAlias = tuple[JudgedSuspect, ...]


def judged(suspect: Suspect, critical_value: float, *, index: int) -> JudgedSuspect:
    """Hold a suspect against a critical value; ``index`` is its place in the whole sample."""
    return JudgedSuspect(
        index=index,
        value=suspect.value,
        statistic=suspect.statistic,
        critical_value=critical_value,
    )


def significant_groups(steps: Sequence[JudgedSuspect]) -> Iterator[Judged]:
    """Yield each leading group of steps whose last one exceeds, the largest group first."""
    for size in range(len(steps), 0, -1):
        if steps[size - 1].exceeds:
            yield tuple(steps[:size])


GRUBBS_FEWEST = 3


def most_extreme(values: Sequence[float], side: Side = Side.EITHER) -> Suspect | None:
    """Find the value farthest from the mean and its Grubbs statistic, a pure number.

    G = abs(value - mean) / s. Of two values equally far the larger is taken, so that
    the choice does not depend on the order of the values.

    Returns:
        The suspect, or None when there are fewer than three values or s is 0.

    >>> most_extreme([10.0, 10.0, 10.0, 10.0, 11.0]).index
    4
    """
    if len(values) < GRUBBS_FEWEST:
        return None
    spread = std(values)
    if spread == 0.0:
        return None
    centre = mean(values)
    index = max(range(len(values)), key=lambda i: (side.beyond(values[i] - centre), values[i]))
    far = side.beyond(values[index] - centre)
    return Suspect(index=index, value=values[index], statistic=far / spread)


@lru_cache(maxsize=1024)
def grubbs_critical(n: int, alpha: float, *, two_sided: bool = True) -> float:
    """Compute the critical value of Grubbs' statistic, a pure number.

    (n - 1)/sqrt(n) * sqrt(t^2 / (n - 2 + t^2)), where t is the quantile of
    Student's distribution with n - 2 degrees of freedom that leaves alpha/(2n) in
    the tail (two-sided) or alpha/n (one-sided). ISO 5725-2 tabulates the two-sided
    values, ASTM E178 the one-sided ones.

    Raises:
        ValueError: n is below 3 or alpha is not between 0 and 1.

    >>> round(grubbs_critical(8, 0.05, two_sided=False), 3)
    2.032
    """
    if n < GRUBBS_FEWEST:
        raise ValueError(f"Grubbs' test needs {GRUBBS_FEWEST} values, not {n}")
    if not 0.0 < alpha < 1.0:
        raise ValueError(f"a significance level between 0 and 1 is needed, not {alpha}")
    tail = alpha / (2 * n if two_sided else n)
    t_squared = t_quantile(tail, n - 2) ** 2
    return (n - 1) / math.sqrt(n) * math.sqrt(t_squared / (n - 2 + t_squared))


def esd_steps(
    values: Sequence[float], max_outliers: int, alpha: float, side: Side = Side.EITHER
) -> Judged:
    """Take the most extreme values out one by one, with R_i and lambda_i for each.

    lambda_i equals the Grubbs critical value of the n - i + 1 values still in at step i,
    one-sided where only one side is looked at. Rosner's approximation is very good for n >= 25
    and reasonable for n >= 15. Below that it still holds for one outlier; with two sought among
    10 to 14 values the false alarm at 1 % is 1.2 to 1.4 % (200 000 simulated samples each).
    ``max_outliers`` is r, set beforehand.

    Returns:
        At most ``max_outliers`` steps; fewer when the values that remain are all
        equal or fewer than three.
    """
    remaining = list(range(len(values)))
    steps: list[JudgedSuspect] = []
    while len(steps) < max_outliers:
        suspect = most_extreme([values[i] for i in remaining], side)
        if suspect is None:
            break
        critical_value = grubbs_critical(len(remaining), alpha, two_sided=side is Side.EITHER)
        index = remaining.pop(suspect.index)
        steps.append(judged(suspect, critical_value, index=index))
    return tuple(steps)


DIXON_FEWEST = 3
MOST_VALUES = 30  # as far as Dixon's table goes
# The trapezoidal rule for the largest value and for the logarithm of its distance to
# the far end: at these steps the critical values are right to 1e-7.
_STEP, _FIRST, _LAST = 0.25, -6.0, 8.5
_LOG_STEP, _LOG_FIRST, _LOG_LAST = 0.15, -9.0, 2.8
_LEAST_WEIGHT = 1e-14
_HALVINGS = 30


class DixonRatio(NamedTuple):
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


def _dixon_steps(values: Sequence[float], alpha: float, side: Side) -> Judged:
    n = len(values)
    if n > MOST_VALUES:
        raise StatisticsError(
            f"Dixon's test takes at most {MOST_VALUES} readings, not {n}.",
            hint="Choose generalized ESD for a series this long.",
        )
    suspect = dixon_suspect(values, side)
    if suspect is None:
        return ()
    critical_value = dixon_critical(n, alpha, two_sided=side is Side.EITHER)
    return (judged(suspect, critical_value, index=suspect.index),)


def dixon_ratio(n: int) -> DixonRatio:
    """Choose the ratio for a number of values, as Dixon recommends.

    Args:
        n: number of values, 3 to 30.

    Raises:
        ValueError: n is out of range.

    >>> [dixon_ratio(n).name for n in (7, 8, 11, 14)]
    ['r10', 'r11', 'r21', 'r22']
    """
    if not DIXON_FEWEST <= n <= MOST_VALUES:
        raise ValueError(f"Dixon's test takes {DIXON_FEWEST} to {MOST_VALUES} values, not {n}")
    return DixonRatio(near=1 if n <= 10 else 2, far=0 if n <= 7 else 1 if n <= 13 else 2)


def dixon_suspect(values: Sequence[float], side: Side = Side.EITHER) -> Suspect | None:
    """Find the value at the end with the larger ratio, and that ratio, a pure number.

    It takes 3 to 30 values.

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

    Two-sided is the one-sided value of alpha / 2; as both ends may exceed it at once, the level
    is then alpha at most. ``n`` is 3 to 30; a ``ratio`` replaces the recommended one.

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


class _Point(NamedTuple):
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
