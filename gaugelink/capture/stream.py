"""A gauge that streams: which frames count, and that it must be moved between two readings."""

from __future__ import annotations

from gaugelink.capture.plan import Seek
from gaugelink.capture.seek import MIN_FRAMES, Seeker, SettledSeeker, TimedFrame, moved_mm
from gaugelink.capture.sweep import SWEEP_BAND_MM, SweepSeeker
from gaugelink.model import Reading


class SpikeGate:
    """Holds back a frame that jumps until the next one shows whether the gauge really moved.

    A frame far from both its neighbours, which agree, is a spike: it stays in the
    journal but must not end a rest or a sweep. At rest nothing is delayed. Spikes
    are rare; where every other frame jumps the gauge is moving, and all pass.
    """

    def __init__(self) -> None:
        self.reset()

    def reset(self) -> None:
        """Forget the frames so far: after an interruption the next one is as good as any."""
        self._last: Reading | None = None
        self._held: TimedFrame | None = None
        self._n_since_spike = MIN_FRAMES

    def pass_on(self, elapsed_s: float, reading: Reading, far_mm: float) -> list[TimedFrame]:
        """Take a frame; return the frames that may now be used, with their times.

        Args:
            elapsed_s: when it came.
            reading: the frame.
            far_mm: the distance in mm that makes a jump.
        """
        frame = (elapsed_s, reading)
        held, self._held = self._held, None
        if held is None:
            if self._last is not None and abs(reading.value_mm - self._last.value_mm) > far_mm:
                self._held = frame
                return []
            return self._passed(frame)
        if self._is_back(reading, far_mm):
            self._n_since_spike = 0
            return self._passed(frame)
        return [*self._passed(held), *self.pass_on(elapsed_s, reading, far_mm)]

    def _is_back(self, reading: Reading, far_mm: float) -> bool:
        near = self._last is not None and abs(reading.value_mm - self._last.value_mm) <= far_mm
        return near and self._n_since_spike >= MIN_FRAMES

    def _passed(self, frame: TimedFrame) -> list[TimedFrame]:
        self._last = frame[1]
        self._n_since_spike += 1
        return [frame]


class StreamFinder:
    """Finds one reading after the other in the frames of a gauge.

    After a reading the gauge must first be moved away: by more than flicker from a
    rest, right out of the band from the extreme of a sweep. That holds whatever is
    sought next.
    """

    def __init__(self) -> None:
        self._gate = SpikeGate()
        self._sought = ""
        self._seeker: Seeker = make_seeker(Seek.SETTLED)
        self._taken_mm: float | None = None  # the reading that has not been left yet
        self._away_mm = 0.0

    def admit(self, seek: Seek, elapsed_s: float, frame: Reading) -> list[TimedFrame]:
        """Take a frame as it comes; return those that are known to be no spikes."""
        far_mm = self._away_mm
        if self._taken_mm is None:
            far_mm = _far_mm(seek, frame.resolution_mm)
        return self._gate.pass_on(elapsed_s, frame, far_mm)

    def find(self, measurand: str, seek: Seek, elapsed_s: float, frame: Reading) -> Reading | None:
        """Take an admitted frame; return the reading of ``measurand`` when it has been found."""
        if measurand != self._sought:
            self._sought, self._seeker = measurand, make_seeker(seek)
        if self._taken_mm is not None and abs(frame.value_mm - self._taken_mm) <= self._away_mm:
            return None
        self._taken_mm = None
        reading = self._seeker.feed(elapsed_s, frame)
        if reading is not None:
            self._seeker.reset()
            self._taken_mm = reading.value_mm
            self._away_mm = _far_mm(seek, reading.resolution_mm)
        return reading

    def leave(self) -> None:
        """The jaws were closed in between: the next rest is a new one wherever it is."""
        self._seeker.reset()
        self._taken_mm = None

    def interrupt(self) -> None:
        """Frames are missing; that does not show that the gauge was moved."""
        self._seeker.reset()
        self._gate.reset()


def make_seeker(seek: Seek) -> Seeker:
    """Return a fresh seeker for one step of the plan."""
    if seek is Seek.SETTLED:
        return SettledSeeker()
    inside = seek is Seek.MAXIMUM
    return SweepSeeker(1 if inside else -1, must_rock=inside)


def _far_mm(seek: Seek, step_mm: float) -> float:
    return moved_mm(step_mm) if seek is Seek.SETTLED else SWEEP_BAND_MM
