"""Whether more readings still help, said once, when the planned ones have been taken.

Readings help until their scatter no longer widens the interval that the rest of the
budget (type B: gauge error, digital step, zero) makes in any case. Enough is where the
half-width of the scatter is at most a third of that of the rest; their root sum of
squares is then at most 5.4 % wider than the rest alone, and twice as many readings
would gain 2.5 %.

Looking at the interval after each reading and stopping when it pleases would be a
mistake: one stops when the readings happen to agree too well, and the interval that
stays covers less than it says. So the number is settled *once*, from the standard
deviation of the planned readings, which says nothing about where their mean lies, and
then all of them are taken (C. Stein, Annals of Mathematical Statistics 16 (1945)
243-258, from memory). Some of the effect is left, since the final standard deviation
holds the one that was looked at. It only bites where the scatter is small against the
rest, and there the rest carries the interval. With normal readings and type B, 3 or 5
planned, and a scatter from a twentieth of the type B uncertainty to twenty times it,
an interval of nominal 95 % covers 94.3 to 95.1 % (200 000 simulated series each).
"""

from __future__ import annotations

import math
from typing import NamedTuple

from gaugelink.model import Summary
from gaugelink.statistics.student import t_quantile

FEWEST_READINGS = 3  # two say next to nothing of their scatter
MOST_READINGS = 10  # from 10 to 20 readings the interval of the mean shrinks by a third
LARGEST_PART = 1.0 / 3.0  # of the type B half-width
_UPPER = 0.975  # all at a coverage of 95 %
_USELESS = frozenset({"drift", "two_suspects"})  # advice to measure again


class MoreReadings(NamedTuple):
    """How many more readings to take, and why, in one plain sentence."""

    n_more: int
    text: str


def more_readings(
    summary: Summary, u_type_b_mm: float, *, n_planned: int | None = None
) -> MoreReadings:
    """Say how many more readings of a measurand in mm still help.

    Ask once, with the summary of the planned readings, and take them all; see the top
    of this module.

    Args:
        summary: the readings so far.
        u_type_b_mm: combined standard uncertainty of everything but their scatter, >= 0.
        n_planned: how many were planned. With more than that taken the number has been
            settled, and the answer is none. None: what was taken is what was planned.

    Returns:
        The number, 0 for none, and the sentence.
    """
    planned = max(summary.n_taken if n_planned is None else n_planned, FEWEST_READINGS)
    if summary.n_taken < planned:
        left = planned - summary.n_taken
        return MoreReadings(n_more=left, text=f"Take {_more(left)}, as planned.")
    if any(advice.code in _USELESS for advice in summary.advice):
        return _none("More of these readings do not help: measure again as advised.")
    if summary.n_taken > planned:
        return _none("Enough readings, as settled after the first ones.")
    return _settled(summary, u_type_b_mm)


def readings_needed(scatter_mm: float, u_type_b_mm: float, n_least: int) -> int | None:
    """Find how many readings make their scatter small against the rest of the budget.

    The least n with t_(n-1) s / sqrt(n) <= 2 u_B / 3, at a coverage of 95 %.

    Args:
        scatter_mm: standard deviation of a single reading.
        u_type_b_mm: combined standard uncertainty of everything else.
        n_least: where to begin, 2 or more.

    Returns:
        The number; None where ``MOST_READINGS`` do not suffice.
    """
    limit_mm = LARGEST_PART * 2.0 * u_type_b_mm
    for n in range(n_least, max(n_least, MOST_READINGS) + 1):
        if t_quantile(_UPPER, n - 1) * scatter_mm / math.sqrt(n) <= limit_mm:
            return n
    return None


def _settled(summary: Summary, u_type_b_mm: float) -> MoreReadings:
    n = summary.n_used
    scatter_mm = (summary.u_mean_mm or 0.0) * math.sqrt(n)
    needed = readings_needed(scatter_mm, u_type_b_mm, n)
    if needed == n:
        return _none("Enough readings: their scatter hardly matters.")
    left = (needed or MOST_READINGS) - n
    if left <= 0:
        return _none(
            f"More than {n} readings gain little, though their scatter still counts: find out why "
            "they differ."
        )
    if needed is None:
        return MoreReadings(
            n_more=left,
            text=f"Take {_more(left)}: the scatter matters, and will a little even then.",
        )
    return MoreReadings(
        n_more=left,
        text=f"Take {_more(left)}: then the scatter hardly matters.",
    )


def _more(n: int) -> str:
    return f"{n} more reading" if n == 1 else f"{n} more readings"


def _none(text: str) -> MoreReadings:
    return MoreReadings(n_more=0, text=text)
