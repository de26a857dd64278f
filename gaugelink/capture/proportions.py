"""Whether a reading goes with what was measured before it in the same job.

The shares are those that the sizing stops at (``sizing.stops``: common practice); a lid thicker
than the barrel is deep, or a spring higher, was read with the wrong faces. A barrel may be odd all
the same: a reading that comes a second time is taken, and says so.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeAlias

from gaugelink.model import Reading
from gaugelink.units import MM_PER_INCH, LengthUnit, spoken

SAME_STEPS = 10  # readings so near to each other say the same
SAME_SHARE = 0.03
JUMP_SHARE = 0.015  # 0.17 mm of a bore of 11.5 mm; a hand scatters it by 0.02 to 0.05 mm
TENFOLD = 9.9  # times coarser or finer than before: a decimal was lost or has come
UNIT_KEY = "was the unit key pressed?"
# What a number in mm becomes when inches are read as mm: 11.00 mm shows as 0.433, which is read as
# 0.433, 4.33 or 43.3; or as 866 counts of 0.0005 inch, which are read as 8.66.
AS_INCHES = tuple(factor / float(MM_PER_INCH) for factor in (1.0, 10.0, 20.0, 100.0))
Known: TypeAlias = Callable[[str], float | None]


class Proportion(NamedTuple):
    """What one measurand usually is of another."""

    part: str
    whole: str
    low: float
    high: float

    @property
    def usual(self) -> str:
        """The range in words."""
        return f"{self.low:g} to {self.high:g}" if self.low else f"at most {self.high:g}"


PROPORTIONS = (
    Proportion("arbor", "bore", 0.18, 0.55),
    Proportion("depth", "bore", 0.0, 0.40),
    Proportion("lid", "depth", 0.0, 1.0),
    Proportion("found_height", "depth", 0.0, 1.0),
)


def nothing_known(_: str) -> float | None:
    """Know of no other measurand."""
    return None


def out_of_proportion(measurand: str, reading: Reading, known: Known) -> str:
    """Say what is odd about a reading beside the rest, in mm; empty when nothing is."""
    for each in PROPORTIONS:
        if measurand not in (each.part, each.whole):
            continue
        other_mm = known(each.whole if measurand == each.part else each.part)
        if other_mm is None or other_mm <= 0.0 or reading.value_mm <= 0.0:
            continue
        share = reading.value_mm / other_mm
        share = share if measurand == each.part else 1.0 / share
        if not each.low <= share <= each.high:
            in_mm = reading.unit is LengthUnit.MM
            key = in_mm and _fits_as_inches(share, each, of_part=measurand == each.part)
            return (
                f"{reading.displayed} {reading.unit} is not a likely {spoken(measurand)}: the "
                f"{spoken(each.part)} would be {share:.2f} of the {spoken(each.whole)}, usual is "
                f"{each.usual}{f' ({UNIT_KEY})' if key else ''}"
            )
    return ""


def says_the_same(reading: Reading, others: Sequence[Reading]) -> bool:
    """Tell whether a reading agrees with those before it; no others never do."""
    if not others:
        return False
    middle_mm = statistics.median(other.value_mm for other in others)
    apart_mm = abs(reading.value_mm - middle_mm)
    return apart_mm <= max(SAME_STEPS * reading.resolution_mm, SAME_SHARE * middle_mm)


def inches_read_as_mm(standing: Sequence[Reading], reading: Reading) -> str:
    """Ask whether the unit key was pressed since the readings before; empty where nothing says so.

    A gauge that does not send its unit shows inches then, which are read as mm.

    Args:
        standing: the readings of the same measurand.
        reading: the new one.
    """
    if reading.unit is not LengthUnit.MM or not far_mm(standing, reading, JUMP_SHARE):
        return ""
    middle_mm = statistics.median(other.value_mm for other in standing)
    if not _is_one_of(reading.value_mm / middle_mm, AS_INCHES):
        return ""
    return (
        f"{reading.displayed} {reading.unit} is {reading.value_mm / middle_mm:.3f} of what came "
        f"before: {UNIT_KEY} Press it again; if it was not, press u to take back what came before."
    )


def _is_one_of(ratio: float, ratios: Sequence[float]) -> bool:
    return any(abs(ratio / each - 1.0) <= JUMP_SHARE for each in ratios)


def _fits_as_inches(share: float, usual: Proportion, *, of_part: bool) -> bool:
    """Tell whether an odd share is a usual one when the newer of its two sizes is in inches."""
    digits = AS_INCHES[:2]  # with the others, an arbor read for a bore would fit as well
    as_mm = (share / each if of_part else share * each for each in digits)
    return any(usual.low <= each <= usual.high for each in as_mm)


def jump(earlier: Sequence[Reading], standing: Sequence[Reading], reading: Reading) -> str:
    """Say that a reading jumped farther than a hand scatters; empty when it has not.

    One changed or lost character of a line looks like that, and few gauges send a check with
    their digits: so such a reading counts when it comes a second time.

    Args:
        earlier: all that this gauge has read in the job.
        standing: the readings of the same measurand.
        reading: the new one.
    """
    shown = f"{reading.displayed} {reading.unit}"
    finest_mm = min((each.resolution_mm for each in earlier), default=0.0)
    if reading.resolution_mm * TENFOLD <= finest_mm:
        return f"{shown} has more decimals than before"
    if any(not far_mm([each], reading, JUMP_SHARE) for each in standing):
        return ""
    distance_mm = far_mm(standing, reading, JUMP_SHARE)
    if not distance_mm:
        return ""
    middle_mm = statistics.median(other.value_mm for other in standing)
    back = reading.value_mm > 0.0 and _is_one_of(middle_mm / reading.value_mm, AS_INCHES)
    key = f" ({UNIT_KEY})" if back else ""
    return f"{shown} is {distance_mm:+.3f} mm from what came before{key}"


def far_mm(others: Sequence[Reading], reading: Reading, share: float = SAME_SHARE) -> float:
    """Return how far a reading lies from the middle of the others, in mm; 0 when near.

    Args:
        others: the readings before it.
        reading: the new one.
        share: what is near, as a share of the middle; ten steps are near in any case.
    """
    if not others:
        return 0.0
    middle_mm = statistics.median(other.value_mm for other in others)
    distance_mm = reading.value_mm - middle_mm
    # The others' step: a number that lost its decimals would excuse itself with its own.
    step_mm = min(other.resolution_mm for other in others)
    limit_mm = max(SAME_STEPS * step_mm, share * middle_mm)
    return distance_mm if abs(distance_mm) > limit_mm + 1e-9 else 0.0
