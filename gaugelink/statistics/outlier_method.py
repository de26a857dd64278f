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
rejected is for ``treatment`` to say.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from gaugelink.errors import StatisticsError
from gaugelink.statistics import dixon
from gaugelink.statistics.esd import esd_steps
from gaugelink.statistics.side import Side
from gaugelink.statistics.suspects import Judged, judged

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
            return f"dixon-{dixon.dixon_ratio(n).name}-{sides}"
        if n_found == 1 and self.most_rejected(n) == 1:
            return f"grubbs-{sides}"
        return "generalized-esd" if side is Side.EITHER else f"generalized-esd-{sides}"


def _dixon_steps(values: Sequence[float], alpha: float, side: Side) -> Judged:
    n = len(values)
    if n > dixon.MOST_VALUES:
        raise StatisticsError(
            f"Dixon's test takes at most {dixon.MOST_VALUES} readings, not {n}.",
            hint="Choose generalized ESD for a series this long.",
        )
    suspect = dixon.dixon_suspect(values, side)
    if suspect is None:
        return ()
    critical_value = dixon.dixon_critical(n, alpha, two_sided=side is Side.EITHER)
    return (judged(suspect, critical_value, index=suspect.index),)
