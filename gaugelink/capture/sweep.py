"""Finding the reading in a stream of indications: the extreme of a sweep.

The largest (smallest) indication must have stood for ``HOLD_S`` while the gauge stayed
near it. Being the largest of many frames it would lean outward with the noise, so it
counts only where a second frame confirms it to one step. All times and distances are
common practice.
"""

from __future__ import annotations

from collections import deque

from gaugelink.capture.seek import EPS_MM, EPS_S, MAX_GAP_S, MIN_FRAMES, TimedFrame, moved_mm
from gaugelink.model import Reading

HOLD_S = 1.5
SWEEP_BAND_MM = 0.3  # a rocked caliper stays within this of the diameter
FALL_S = 0.25  # rocking takes longer; a single wrong frame of a quick stream does not
QUICK_FRAMES = 12  # in HOLD_S: enough to meet the extreme of somebody rocking once a second


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
        since_s = self._stands_s
        if self._must_rock:
            if self._rocked_s is None:
                return None
            since_s = max(since_s, self._rocked_s)
        long_enough = elapsed_s - since_s >= HOLD_S - EPS_S
        return self._best if long_enough and self._is_sure(reading.resolution_mm) else None

    def reset(self) -> None:
        """Begin a new sweep."""
        self._recent.clear()
        self._best: Reading | None = None  # the farthest that is confirmed
        self._stands_s = 0.0  # since when it stands, flicker of one step aside
        self._top_mm: float | None = None  # the farthest frame of this sweep, signed
        self._before_fall_s: float | None = None
        self._low_mm = 0.0  # the nearest frame since, signed
        self._rocked_s: float | None = None

    def _has_left(self, elapsed_s: float, reading: Reading) -> bool:
        """A leap, a fall out of the band or a silence ends a sweep."""
        if self._top_mm is None:
            return False
        top_mm = self._height_mm(self._best) if self._best else self._top_mm
        far = abs(self._height_mm(reading) - top_mm) > SWEEP_BAND_MM
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
        long_enough = elapsed_s - self._before_fall_s >= FALL_S - EPS_S
        if long_enough and height_mm - self._low_mm > far_mm and self._rocked_s is None:
            self._rocked_s = elapsed_s
        if not has_fallen:
            self._before_fall_s = None

    def _confirm(self, elapsed_s: float, reading: Reading) -> None:
        """Let a frame confirm others of the last seconds; the farthest of them counts."""
        while self._recent and elapsed_s - self._recent[0][0] > MAX_GAP_S:
            self._recent.popleft()
        self._recent.append((elapsed_s, reading))
        near_mm, value_mm = reading.resolution_mm + EPS_MM, reading.value_mm
        near = [each for _, each in self._recent if abs(each.value_mm - value_mm) <= near_mm]
        farthest = max(near, key=self._height_mm)
        if len(near) > 1 and (
            self._best is None or self._height_mm(farthest) > self._height_mm(self._best)
        ):
            self._best = farthest
            least_mm = self._height_mm(farthest) - near_mm
            self._stands_s = next(t for t, r in self._recent if self._height_mm(r) >= least_mm)

    def _is_sure(self, step_mm: float) -> bool:
        """A quick stream misses no extreme; on a slow one the gauge must be held there."""
        now_s = self._recent[-1][0]
        if sum(now_s - t <= HOLD_S for t, _ in self._recent) >= QUICK_FRAMES:
            return True
        if self._best is None:
            return False
        near_mm, best_mm = step_mm + EPS_MM, self._best.value_mm
        last = list(self._recent)[-MIN_FRAMES:]
        return all(abs(frame.value_mm - best_mm) <= near_mm for _, frame in last)

    def _height_mm(self, reading: Reading) -> float:
        return self._sign * reading.value_mm
