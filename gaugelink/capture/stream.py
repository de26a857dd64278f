"""Finding the readings in a stream of indications: at rest, or at the extreme of a sweep.

Times are the gauge's own clock; nothing here waits. A reading is always a frame the gauge
really sent, never an average, and between two readings the gauge must be moved. All times
and distances are common practice.

*Settled* means that the indication stayed within one digital step for ``SETTLE_S``.
Standards for weighing ask for up to 5 s of rest; a hand-held gauge needs about 0.5 to 1 s,
for which no standard exists.

*The extreme of a sweep* is the largest (smallest) indication that stood for ``HOLD_S``
while the gauge stayed near it. Being the largest of many frames it would lean outward with
the noise, so it counts only where a second frame confirms it to one step.
"""

from __future__ import annotations

import math
from collections import deque
from functools import lru_cache
from operator import itemgetter
from typing import Protocol, TypeAlias

from gaugelink.model import Reading, Seek

SETTLE_S = 0.7
MIN_FRAMES = 3  # at rest means several frames agree, however slow the gauge is
MAX_GAP_S = 2.5  # the slowest streams send once a second or two; a longer silence hides a move
MOVED_STEPS = 5  # display flicker of a gauge at rest stays well below
MOVED_MM = 0.02  # so does what finger pressure and warmth do to a fine micrometer
EPS_MM = 1e-9  # displayed values are decimal: rounding must not break "within one step",
EPS_S = 1e-6  # nor adding up periods "for 0.7 s"
HOLD_S = 1.5
SWEEP_BAND_MM = 0.3  # a rocked caliper stays within this of the diameter
FALL_S = 0.25  # rocking takes longer; a single wrong frame of a quick stream does not
QUICK_FRAMES = 12  # in HOLD_S: enough to meet the extreme of somebody rocking once a second
TimedFrame: TypeAlias = tuple[float, Reading]


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

    @property
    def must_leave(self) -> bool:
        """True while the gauge has not been moved away from the last reading."""
        return self._taken_mm is not None

    def share(self, elapsed_s: float) -> float:
        """How much of the next reading is there, 0 to 1; 0 until the last one was left."""
        return self._seeker.share(elapsed_s)  # which began anew with the last reading

    def full_in_s(self, elapsed_s: float) -> float:
        """Return for how long the gauge must still be held, in seconds."""
        return (1.0 - self.share(elapsed_s)) * self._seeker.rest_s

    def has_rocked(self, measurand: str) -> bool:
        """Tell whether all the rocking is done that ``measurand`` wants."""
        return measurand == self._sought and self._seeker.has_rocked

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


@lru_cache
def _far_mm(seek: Seek, step_mm: float) -> float:
    return moved_mm(step_mm) if seek is Seek.SETTLED else SWEEP_BAND_MM


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


def moved_mm(step_mm: float) -> float:
    """Return the distance in mm beyond which a gauge with this step has been moved."""
    return max(MOVED_STEPS * step_mm, MOVED_MM) + EPS_MM


class Seeker(Protocol):
    """Watches a stream for the next reading."""

    rest_s: float  # how long the gauge is held

    @property
    def has_rocked(self) -> bool:
        """True where the gauge was rocked, or need not be."""

    def share(self, elapsed_s: float) -> float:
        """How much of the rest is there, 0 to 1: a reading is found when it reaches 1.

        It grows with the frames, never between them, so that it cannot be full with
        nothing found; a silence until ``elapsed_s`` that breaks the rest makes it 0.
        """

    def feed(self, elapsed_s: float, reading: Reading) -> Reading | None:
        """Take one indication; return the reading when it has been found."""

    def reset(self) -> None:
        """Forget what was seen so far."""


class SettledSeeker:
    """Finds an indication at rest."""

    rest_s = SETTLE_S
    has_rocked = True

    def __init__(self) -> None:
        self._run: deque[tuple[float, float]] = deque()

    def feed(self, elapsed_s: float, reading: Reading) -> Reading | None:
        """Take one indication; return it when it has been at rest long enough."""
        self._extend(elapsed_s, reading)
        return reading if self.share(elapsed_s) >= 1.0 else None

    def share(self, elapsed_s: float) -> float:
        """How much of the rest is there: of its time, and of its frames."""
        if not self._run or elapsed_s - self._run[-1][0] > MAX_GAP_S:
            return 0.0
        rested_s = self._run[-1][0] - self._run[0][0]
        return min(1.0, rested_s / (SETTLE_S - EPS_S), len(self._run) / MIN_FRAMES)

    def reset(self) -> None:
        """Begin a new rest."""
        self._run.clear()

    def _extend(self, elapsed_s: float, reading: Reading) -> None:
        """Add to the run of agreeing frames, which a silence breaks; keep it short."""
        if self._run and elapsed_s - self._run[-1][0] > MAX_GAP_S:
            self._run.clear()
        self._run.append((elapsed_s, reading.value_mm))
        while _span_mm(self._run) > reading.resolution_mm + EPS_MM:
            self._run.popleft()
        while len(self._run) > MIN_FRAMES and elapsed_s - self._run[1][0] >= SETTLE_S - EPS_S:
            self._run.popleft()


def _span_mm(run: deque[tuple[float, float]]) -> float:
    values = [value_mm for _, value_mm in run]
    return max(values) - min(values)


class SweepSeeker:
    """Finds the extreme of a sweep.

    Args:
        sign: 1 for the maximum of an inside size, -1 for the minimum of an outside one.
        must_rock: the gauge must have fallen back from an extreme and returned. Jaws
            that were opened and laid down stand at a maximum too; only rocking shows
            that they are in a bore. A round arbor does not rock however it is turned.
    """

    rest_s = HOLD_S

    def __init__(self, sign: int, *, must_rock: bool) -> None:
        self._sign = sign
        self._must_rock = must_rock
        self._recent: deque[tuple[float, float, Reading]] = deque()  # the height after the time
        self.reset()

    def feed(self, elapsed_s: float, reading: Reading) -> Reading | None:
        """Take one indication; return the extreme frame once it has stood long enough."""
        height_mm = self._sign * reading.value_mm
        if self._has_left(elapsed_s, height_mm):
            self.reset()
        self._watch_rocking(elapsed_s, height_mm, moved_mm(reading.resolution_mm))
        self._confirm(elapsed_s, height_mm, reading)
        self._step_mm = reading.resolution_mm
        return self._best if self.share(elapsed_s) >= 1.0 else None

    @property
    def has_rocked(self) -> bool:
        """True where the gauge was rocked, or need not be."""
        return not self._must_rock or self._rocked_s is not None

    def share(self, elapsed_s: float) -> float:
        """How long the extreme has stood, of the time it must; 0 before the rocking."""
        if self._best is None or not self.has_rocked:
            return 0.0
        last_s = self._recent[-1][0]
        if elapsed_s - last_s > MAX_GAP_S:
            return 0.0
        since_s = max(self._stands_s, self._rocked_s or 0.0) if self._must_rock else self._stands_s
        return min(1.0, (last_s - since_s) / (HOLD_S - EPS_S), self._sure_share(self._step_mm))

    def reset(self) -> None:
        """Begin a new sweep."""
        self._recent.clear()
        self._best: Reading | None = None  # the farthest that is confirmed
        self._best_mm = -math.inf  # its height
        self._step_mm = 0.0  # of the last frame
        self._stands_s = 0.0  # since when it stands, flicker of one step aside
        self._top_mm: float | None = None  # the farthest frame of this sweep, signed
        self._before_fall_s: float | None = None
        self._low_mm = 0.0  # the nearest frame since, signed
        self._rocked_s: float | None = None

    def _has_left(self, elapsed_s: float, height_mm: float) -> bool:
        """A leap, a fall out of the band or a silence ends a sweep."""
        if self._top_mm is None:
            return False
        top_mm = self._best_mm if self._best else self._top_mm
        far = abs(height_mm - top_mm) > SWEEP_BAND_MM
        return far or elapsed_s - self._recent[-1][0] > MAX_GAP_S

    def _watch_rocking(self, elapsed_s: float, height_mm: float, far_mm: float) -> None:
        """Notice that the indication fell back from the farthest one and returned."""
        self._top_mm = height_mm if self._top_mm is None else max(self._top_mm, height_mm)
        has_fallen = self._top_mm - height_mm > far_mm
        if has_fallen and self._before_fall_s is None:
            self._before_fall_s, self._low_mm = self._recent[-1][0], height_mm
        if self._before_fall_s is None:
            return
        self._low_mm = min(self._low_mm, height_mm)
        long_enough = elapsed_s - self._before_fall_s >= FALL_S - EPS_S
        if long_enough and height_mm - self._low_mm > far_mm and self._rocked_s is None:
            self._rocked_s = elapsed_s
        if not has_fallen:
            self._before_fall_s = None

    def _confirm(self, elapsed_s: float, height_mm: float, reading: Reading) -> None:
        """Let a frame confirm others of the last seconds; the farthest of them counts."""
        while self._recent and elapsed_s - self._recent[0][0] > MAX_GAP_S:
            self._recent.popleft()
        self._recent.append((elapsed_s, height_mm, reading))
        near_mm = reading.resolution_mm + EPS_MM
        near = [each for each in self._recent if abs(each[1] - height_mm) <= near_mm]
        _, farthest_mm, farthest = max(near, key=itemgetter(1))
        if len(near) > 1 and farthest_mm > self._best_mm:
            self._best, self._best_mm = farthest, farthest_mm
            least_mm = farthest_mm - near_mm
            self._stands_s = next(t for t, each_mm, _ in self._recent if each_mm >= least_mm)

    def _sure_share(self, step_mm: float) -> float:
        """A quick stream misses no extreme; on a slow one the gauge must be held there."""
        now_s = self._recent[-1][0]
        seen = sum(now_s - t <= HOLD_S for t, *_ in self._recent) / QUICK_FRAMES
        last = list(self._recent)[-MIN_FRAMES:]
        there = [abs(each_mm - self._best_mm) <= step_mm + EPS_MM for _, each_mm, _ in last]
        held = there[::-1].index(False) if False in there else len(there)
        return max(seen, held / len(there))
