"""Finding the reading in a stream of indications: at rest, or at the end of a sweep.

Times are the gauge's own clock; nothing here waits. A reading is always a frame
the gauge really sent, never an average.

Settled: the indication stayed within one digital step for ``SETTLE_S``. Standards
for weighing ask for up to 5 s of rest; a hand-held gauge needs about 0.5 to 1 s,
for which no standard exists (common practice).

Sweep: the largest (smallest) indication stood for ``HOLD_S`` while the gauge stayed
near it. Being the largest of many frames it would lean outward with the noise, so
it counts only where a second frame confirms it to one step.
"""

from __future__ import annotations

from collections import deque
from typing import Protocol, TypeAlias

from gaugelink.capture.plan import Seek
from gaugelink.model import Reading

SETTLE_S = 0.7
HOLD_S = 1.5
FALL_S = 0.25  # rocking takes longer; a single wrong frame of a quick stream does not
MOVED_STEPS = 5  # display flicker of a gauge at rest stays well below
MOVED_MM = 0.02  # so does what finger pressure and warmth do to a fine micrometer
SWEEP_BAND_MM = 0.3  # a rocked caliper stays within this of the diameter
MIN_FRAMES = 3  # at rest means several frames agree, however slow the gauge is
MAX_GAP_S = 2.5  # the slowest streams send once a second or two; a longer silence hides a move
_EPS_S = 1e-6  # nor must adding up periods break "for 0.7 s"
_EPS_MM = 1e-9  # displayed values are decimal: rounding must not break "within one step"

TimedFrame: TypeAlias = tuple[float, Reading]


def moved_mm(step_mm: float) -> float:
    """Return the distance in mm beyond which a gauge with this step has been moved."""
    return max(MOVED_STEPS * step_mm, MOVED_MM) + _EPS_MM


class Seeker(Protocol):
    """Watches a stream for the next reading."""

    def feed(self, elapsed_s: float, reading: Reading) -> Reading | None:
        """Take one indication; return the reading when it has been found."""

    def reset(self) -> None:
        """Forget what was seen so far."""


class SettledSeeker:
    """Finds an indication at rest."""

    def __init__(self) -> None:
        self._run: deque[tuple[float, float]] = deque()

    def feed(self, elapsed_s: float, reading: Reading) -> Reading | None:
        """Take one indication; return it when it has been at rest long enough."""
        self._extend(elapsed_s, reading)
        if len(self._run) < MIN_FRAMES or elapsed_s - self._run[0][0] < SETTLE_S - _EPS_S:
            return None
        return reading

    def reset(self) -> None:
        """Begin a new rest."""
        self._run.clear()

    def _extend(self, elapsed_s: float, reading: Reading) -> None:
        """Add to the run of agreeing frames, which a silence breaks; keep it short."""
        if self._run and elapsed_s - self._run[-1][0] > MAX_GAP_S:
            self._run.clear()
        self._run.append((elapsed_s, reading.value_mm))
        while _span_mm(self._run) > reading.resolution_mm + _EPS_MM:
            self._run.popleft()
        while len(self._run) > MIN_FRAMES and elapsed_s - self._run[1][0] >= SETTLE_S - _EPS_S:
            self._run.popleft()


class SweepSeeker:
    """Finds the extreme of a sweep.

    Args:
        sign: 1 for the maximum of an inside size, -1 for the minimum of an outside one.
        must_rock: the gauge must have fallen back from an extreme and returned. Jaws
            that were opened and laid down stand at a maximum too; only rocking shows
            that they are in a bore. A round arbor does not rock however it is turned.
    """

    def __init__(self, sign: int, *, must_rock: bool) -> None:
        self._sign = sign
        self._must_rock = must_rock
        self._recent: deque[TimedFrame] = deque()
        self.reset()

    def feed(self, elapsed_s: float, reading: Reading) -> Reading | None:
        """Take one indication; return the extreme frame once it has stood long enough."""
        if self._has_left(elapsed_s, reading):
            self.reset()
        self._watch_rocking(elapsed_s, reading)
        self._confirm(elapsed_s, reading)
        if self._best is None:
            return None
        since_s, best = self._best
        if self._must_rock:
            if self._rocked_s is None:
                return None
            since_s = max(since_s, self._rocked_s)
        return best if elapsed_s - since_s >= HOLD_S - _EPS_S else None

    def reset(self) -> None:
        """Begin a new sweep."""
        self._recent.clear()
        self._best: TimedFrame | None = None
        self._top_mm: float | None = None  # the farthest frame of this sweep, signed
        self._before_fall_s: float | None = None
        self._low_mm = 0.0  # the nearest frame since, signed
        self._rocked_s: float | None = None

    def _has_left(self, elapsed_s: float, reading: Reading) -> bool:
        """A leap, a fall out of the band or a silence ends a sweep."""
        if self._top_mm is None:
            return False
        far = abs(self._height_mm(reading) - self._top_mm) > SWEEP_BAND_MM
        return far or elapsed_s - self._recent[-1][0] > MAX_GAP_S

    def _watch_rocking(self, elapsed_s: float, reading: Reading) -> None:
        """Notice that the indication fell back from the farthest one and returned."""
        height_mm, far_mm = self._height_mm(reading), moved_mm(reading.resolution_mm)
        self._top_mm = height_mm if self._top_mm is None else max(self._top_mm, height_mm)
        has_fallen = self._top_mm - height_mm > far_mm
        if has_fallen and self._before_fall_s is None:
            self._before_fall_s, self._low_mm = self._recent[-1][0], height_mm
        if self._before_fall_s is None:
            return
        self._low_mm = min(self._low_mm, height_mm)
        long_enough = elapsed_s - self._before_fall_s >= FALL_S - _EPS_S
        if long_enough and height_mm - self._low_mm > far_mm and self._rocked_s is None:
            self._rocked_s = elapsed_s
        if not has_fallen:
            self._before_fall_s = None

    def _confirm(self, elapsed_s: float, reading: Reading) -> None:
        """Let a frame confirm others of the last seconds; the farthest of them counts."""
        while self._recent and elapsed_s - self._recent[0][0] > MAX_GAP_S:
            self._recent.popleft()
        near_mm = reading.resolution_mm + _EPS_MM
        value_mm = reading.value_mm
        near = [each for each in self._recent if abs(each[1].value_mm - value_mm) <= near_mm]
        frame = (elapsed_s, reading)
        self._recent.append(frame)
        if not near:
            return
        farthest = max(*near, frame, key=lambda each: self._height_mm(each[1]))
        if self._best is None or self._height_mm(farthest[1]) > self._height_mm(self._best[1]):
            self._best = farthest

    def _height_mm(self, reading: Reading) -> float:
        return self._sign * reading.value_mm


def make_seeker(seek: Seek) -> Seeker:
    """Return a fresh seeker for one step of the plan."""
    if seek is Seek.SETTLED:
        return SettledSeeker()
    inside = seek is Seek.MAXIMUM
    return SweepSeeker(1 if inside else -1, must_rock=inside)


def _span_mm(run: deque[tuple[float, float]]) -> float:
    values = [value_mm for _, value_mm in run]
    return max(values) - min(values)
