"""What can be said of one reading: whether it is possible, and what is odd about it.

All limits are common practice; they only serve to refuse the plainly wrong.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence

from gaugelink.capture.plan import Step
from gaugelink.model import Flag, Reading
from gaugelink.names import spoken

ZERO_LIMIT_MM = 0.1  # farther off with closed jaws, the gauge wants setting, not correcting
ZERO_LIMIT_STEPS = 20  # for a micrometer that is less: a spring is thinner than 0.1 mm
NEARLY_CLOSED_MM = 1.0  # at rest so near to zero, somebody may mean closed jaws
CLOSED_STEPS = 5  # jaws that closed on a little dirt are closed
FAR_STEPS = 10  # a reading this far from its neighbours is taken, with a word of warning
FAR_SHARE = 0.03
LOST_DECIMAL = 9.9  # times coarser than before: at least one decimal is missing
_EPS_MM = 1e-9


def is_opening_zero(reading: Reading) -> bool:
    """Tell whether a reading may be the zero before."""
    limit_mm = min(ZERO_LIMIT_MM, ZERO_LIMIT_STEPS * reading.resolution_mm)
    return abs(reading.value_mm) <= limit_mm + _EPS_MM


def is_closing_zero(offset_mm: float, taken: Sequence[Reading]) -> bool:
    """Tell whether a frame ``offset_mm`` from the zero before may be the zero after.

    A gauge may have drifted, but not halfway to the smallest size it has ``taken``:
    that would be one more reading of a thin spring.
    """
    return abs(offset_mm) <= min(ZERO_LIMIT_MM, _halfway_mm(taken)) + _EPS_MM


def missed_zero(offset_mm: float, taken: Sequence[Reading], reading: Reading) -> str:
    """Say why a frame is not the zero after; empty when nobody may have meant it to be one."""
    if abs(offset_mm) > min(NEARLY_CLOSED_MM, _halfway_mm(taken)):
        return ""
    return (
        f"{reading.displayed} {reading.unit} is too far from the zero before. Wipe the jaws and "
        "close them again, or press q: what was taken is kept."
    )


def _halfway_mm(taken: Sequence[Reading]) -> float:
    return min((reading.value_mm for reading in taken), default=math.inf) / 2


def shows_closed_jaws(offset_mm: float, step_mm: float, step: Step | None) -> bool:
    """Tell whether a frame shows closed jaws, and not a thin part that ``step`` asks for."""
    limit_mm = CLOSED_STEPS * step_mm
    if step is not None:
        limit_mm = min(limit_mm, max(step_mm, step.low_mm - step_mm))
    return abs(offset_mm) <= limit_mm + _EPS_MM


def implausible(step: Step, reading: Reading) -> str:
    """Say why a reading cannot be what ``step`` asks for; empty when it can."""
    if step.low_mm <= reading.value_mm <= step.high_mm:
        return ""
    name = spoken(step.measurand)
    return (
        f"{reading.displayed} {reading.unit} is not a likely {name} "
        f"({step.low_mm:g} to {step.high_mm:g} mm). Check the unit and the jaws."
    )


def lost_decimals(earlier: Sequence[Reading], reading: Reading) -> str:
    """Say that a number has fewer decimals than this gauge showed before; empty when it has not.

    The tail of a line that was cut, ``7 mm`` of ``11.47 mm``, looks like that. A display
    that counts in halves in one unit only changes its step by less than ten.
    """
    finest_mm = min((each.resolution_mm for each in earlier), default=math.inf)
    if reading.resolution_mm < LOST_DECIMAL * finest_mm:
        return ""
    return f"{reading.displayed} {reading.unit} has fewer decimals than before: send it again."


def oddities(others: Sequence[Reading], reading: Reading) -> str:
    """Say what is odd about a reading that is taken all the same; empty when nothing is.

    Args:
        others: the readings of the same measurand that stand.
        reading: the new one.
    """
    held = "The display is on hold." if Flag.HELD in reading.flags else ""
    return " ".join(filter(None, (_far_off(others, reading), held)))


def _far_off(others: Sequence[Reading], reading: Reading) -> str:
    if len(others) < 2:
        return ""
    middle_mm = statistics.median(other.value_mm for other in others)
    distance_mm = reading.value_mm - middle_mm
    # The others' step: a number that lost its decimals would excuse itself with its own.
    step_mm = min(other.resolution_mm for other in others)
    if abs(distance_mm) <= max(FAR_STEPS * step_mm, FAR_SHARE * middle_mm) + _EPS_MM:
        return ""
    return f"{distance_mm:+.3f} mm from the others. Close the jaws twice to take it back."
