"""From a frame to a reading in millimetres, under one rule about units.

A gauge that is switched between mm and inch in the middle of a job changes its
numbers by 25.4 and says so at best in two letters. So one unit holds for a job:
the one given, else the first one seen. Frames in the other unit are not converted
quietly; they are reported and are no readings until the unit is back.

The digital step is one of the last digit, except in inches: there gauges commonly
count in halves (0.0005 in on a display of four decimals) and no frame says so. As
long as every last digit was 0 or 5, the step is taken as 5.
"""

from __future__ import annotations

from gaugelink.model import Fault, FaultKind, Frame, Reading, UnitSwitch
from gaugelink.units import LengthUnit, step_mm, to_mm


class UnitRule:
    """Turns the frames of one gauge into readings, all in the unit of the job.

    Args:
        job_unit: the unit that holds from the start; None takes the first one seen.
    """

    def __init__(self, job_unit: LengthUnit | None = None) -> None:
        self._job_unit = job_unit
        self._counts_singly = False  # an inch display has shown a last digit besides 0 and 5

    @property
    def job_unit(self) -> LengthUnit | None:
        """The unit that holds; None before the first frame with a unit."""
        return self._job_unit

    def judge(self, frame: Frame) -> Reading | UnitSwitch | Fault:
        """Return the reading in mm, or why this frame is none."""
        if frame.unit is None:
            return Fault(
                kind=FaultKind.NO_UNIT,
                reason="neither the gauge nor its format says mm or inch; add unit=mm or unit=in",
                raw=frame.raw,
            )
        if self._job_unit is None:
            self._job_unit = frame.unit
        if frame.unit is not self._job_unit:
            return UnitSwitch(before=self._job_unit, now=frame.unit, raw=frame.raw)
        return _to_reading(frame, frame.unit, self._step_mm(frame, frame.unit))

    def _step_mm(self, frame: Frame, unit: LengthUnit) -> float:
        if frame.step is not None:
            return to_mm(frame.step, unit)
        if unit is LengthUnit.MM:
            return step_mm(frame.value, unit)
        self._counts_singly = self._counts_singly or frame.value.as_tuple().digits[-1] % 5 != 0
        return step_mm(frame.value, unit, counts=1 if self._counts_singly else 5)


def _to_reading(frame: Frame, unit: LengthUnit, resolution_mm: float) -> Reading:
    return Reading(
        value_mm=to_mm(frame.value, unit) + 0.0,  # -0.0 becomes 0.0; the flag keeps the sign
        resolution_mm=resolution_mm,
        displayed=format(frame.value, "f"),
        unit=unit,
        raw=frame.raw,
        channel=frame.channel,
        flags=frame.flags,
    )
