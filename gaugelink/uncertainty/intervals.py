"""Coverage intervals of a row of Monte Carlo draws: JCGM 101:2008, 7.7.

Of M draws in rising order an interval with coverage p is any pair that is
q = pM apart. Which pair is a choice: the one with equal tails, or the narrowest. For a
symmetric distribution both are the same but for chance, and then the position of the
narrowest is the noisier of the two; for a lopsided one, such as a square near zero,
the narrowest reaches into the dense end.
"""

from __future__ import annotations

import math
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array


class Interval(StrEnum):
    """Which of the intervals with one coverage."""

    SYMMETRIC = "symmetric"  # probabilistically symmetric: equal tails
    SHORTEST = "shortest"

    def of(self, row: Array, coverage: float) -> tuple[float, float]:
        """Return the ends of the interval; the row is reordered.

        Args:
            row: finite draws, one or more.
            coverage: coverage probability, between 0 and 1.
        """
        if self is Interval.SHORTEST:
            return _shortest(row, coverage)
        return _symmetric(row, coverage)


def _span(size: int, coverage: float) -> int:
    return math.floor(coverage * size + 0.5)


def _symmetric(row: Array, coverage: float) -> tuple[float, float]:
    """Return the order statistics y_(r) and y_(r+q) of JCGM 101:2008, 7.7.2."""
    q = _span(row.size, coverage)
    r = max(math.floor((row.size - q + 1) / 2), 1)
    low, high = r - 1, min(r + q, row.size) - 1
    # One position at a time: numpy selects a single one with vector instructions,
    # two at once without, which takes three times as long.
    row.partition(low)
    if high > low:
        row[low + 1 :].partition(high - low - 1)
    return float(row[low]), float(row[high])


def _shortest(row: Array, coverage: float) -> tuple[float, float]:
    """Return the pair q apart that is closest together: JCGM 101:2008, 7.7.4."""
    q = min(_span(row.size, coverage), row.size - 1)
    row.sort()
    widths = row[q:] - row[: row.size - q]
    r = int(widths.argmin())
    return float(row[r]), float(row[r + q])
