"""Whether the readings of a series creep one way while they are taken.

A part warming in the hand, or a zero that walks, makes the first or the last
reading look like an outlier when nothing is wrong with it alone. The test is on
ranks, so that one gross reading neither makes a drift nor hides one.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right, insort
from collections import Counter
from collections.abc import Sequence
from statistics import median

from gaugelink.statistics.moments import GUARD_STEPS, in_steps
from gaugelink.statistics.student import normal_quantile

DRIFT_ALPHA = 0.02  # five readings that only rise or only fall have probability 2/5! = 0.017


def trend_score(values: Sequence[float]) -> float:
    """Compute the Mann-Kendall trend statistic, a pure number, positive when rising.

    S is the number of later-and-larger pairs minus later-and-smaller ones; the
    score is S / sqrt(var S), with var S = (n(n-1)(2n+5) - sum t(t-1)(2t+5)) / 18
    over the groups of t equal values (M. G. Kendall, Rank Correlation Methods,
    chapter 4). Without a correction for continuity the normal limit at
    ``DRIFT_ALPHA`` gives 5 to 30 readings an exact false alarm of 0.011 to 0.021.

    Returns:
        The score; 0.0 when all values are equal.

    >>> round(trend_score([1.0, 2.0, 3.0, 4.0, 5.0]), 3)
    2.449
    """
    variance = (_pair_weight(len(values)) - sum(map(_pair_weight, Counter(values).values()))) / 18.0
    return _later_larger(values) / math.sqrt(variance) if variance > 0.0 else 0.0


def _pair_weight(n: int) -> int:
    return n * (n - 1) * (2 * n + 5)


def _later_larger(values: Sequence[float]) -> int:
    earlier: list[float] = []
    balance = 0
    for value in values:
        smaller = bisect_left(earlier, value)
        larger = len(earlier) - bisect_right(earlier, value)
        balance += smaller - larger
        insort(earlier, value)
    return balance


def drift_mm(values_mm: Sequence[float], resolution_mm: float) -> float | None:
    """Estimate the drift from the first to the last reading in mm, if one is visible.

    Visible means: the trend is significant at ``DRIFT_ALPHA`` and amounts to at
    least three display steps. The amount is the difference between the medians of
    the later and the earlier half, stretched to the whole series.

    Args:
        values_mm: five or more readings in the order they were taken.
        resolution_mm: display step, > 0.

    Returns:
        The drift, positive when rising, or None when none is visible.

    >>> drift_mm([12.00, 12.02, 12.03, 12.05, 12.06], 0.01) is None
    False
    """
    if abs(trend_score(values_mm)) < normal_quantile(1.0 - DRIFT_ALPHA / 2.0):
        return None
    n = len(values_mm)
    shift_mm = median(values_mm[-(n // 2) :]) - median(values_mm[: n // 2])
    rise_mm = shift_mm * (n - 1) / (n - n // 2)
    return rise_mm if in_steps(abs(rise_mm), resolution_mm) >= GUARD_STEPS else None
