"""Finding the reading in a stream of indications: at rest, or at the end of a sweep.

Times are the gauge's own clock; nothing here waits. A reading is always a frame
the gauge really sent, never an average.

Settled: the indication stayed within one digital step for ``SETTLE_S`` and had
moved before. Standards for weighing ask for up to 5 s of rest; a hand-held gauge
needs about 0.5 to 1 s, for which no standard exists (common practice).

Sweep: the largest (smallest) indication stood for ``HOLD_S`` while the gauge
stayed near it. A single frame that no other supports is not a maximum, and a
gauge that has not moved is not being swept.
"""

from __future__ import annotations

from collections import deque
from typing import Protocol

from gaugelink.capture.plan import Seek
from gaugelink.model import Reading

SETTLE_S = 0.7
HOLD_S = 1.5
MOVED_STEPS = 5  # display flicker of a gauge at rest stays well below
SWEEP_BAND_MM = 0.3  # a rocked caliper stays within this of the diameter
MIN_FRAMES = 3  # at rest means several frames agree, however slow the gauge is
_EPS_MM = 1e-9  # displayed values are decimal: rounding must not break "within one step"


class Seeker(Protocol):
    """Watches a stream for the next reading."""

    def feed(self, elapsed_s: float, reading: Reading) -> Reading | None:
        """Take one indication; return the reading when it has been found."""

    def leave(self) -> None:
        """The gauge was taken away (jaws closed, cable pulled): the next rest is a new one."""


class SettledSeeker:
    """Finds an indication at rest; ``rest_mm`` is a rest that has been reported already."""

    def __init__(self, rest_mm: float | None = None) -> None:
        self._run: deque[tuple[float, float]] = deque()
        self._rest_mm = rest_mm

    def feed(self, elapsed_s: float, reading: Reading) -> Reading | None:
        """Take one indication; return it when it completes a new rest."""
        step_mm = reading.resolution_mm
        if self._rest_mm is not None and (
            abs(reading.value_mm - self._rest_mm) > MOVED_STEPS * step_mm + _EPS_MM
        ):
            self._rest_mm = None
        self._extend(elapsed_s, reading.value_mm, step_mm)
        rested = elapsed_s - self._run[0][0] >= SETTLE_S and len(self._run) >= MIN_FRAMES
        if not rested or self._rest_mm is not None:
            return None
        self._rest_mm = reading.value_mm
        return reading

    def leave(self) -> None:
        """Forget the last rest."""
        self._run.clear()
        self._rest_mm = None

    def _extend(self, elapsed_s: float, value_mm: float, step_mm: float) -> None:
        """Add to the run of agreeing frames; a gap as long as the rest itself breaks it."""
        if self._run and elapsed_s - self._run[-1][0] > SETTLE_S:
            self._run.clear()
        self._run.append((elapsed_s, value_mm))
        while _span(self._run) > step_mm + _EPS_MM:
            self._run.popleft()
        while len(self._run) > MIN_FRAMES and elapsed_s - self._run[1][0] >= SETTLE_S:
            self._run.popleft()


class SweepSeeker:
    """Finds the extreme of a sweep; ``sign`` is 1 for a maximum, -1 for a minimum."""

    def __init__(self, sign: int) -> None:
        self._sign = sign
        self._recent: deque[tuple[float, Reading]] = deque()
        self._best: tuple[float, Reading] | None = None
        self._support = 0  # frames within one step of the best
        self._swept_mm = 0.0  # farthest below the best in this sweep
        self._reported = False

    def feed(self, elapsed_s: float, reading: Reading) -> Reading | None:
        """Take one indication; return the extreme frame once it has stood long enough."""
        if self._best and self._below_best(reading) > SWEEP_BAND_MM:
            self.leave()
        self._weigh(elapsed_s, reading)
        self._recent.append((elapsed_s, reading))
        while elapsed_s - self._recent[0][0] > HOLD_S:
            self._recent.popleft()
        if self._best is None or self._reported or elapsed_s - self._best[0] < HOLD_S:
            return None
        if self._support < 2:
            self._restart_from_recent()
            return None
        if self._swept_mm <= MOVED_STEPS * reading.resolution_mm + _EPS_MM:
            return None
        self._reported = True
        return self._best[1]

    def leave(self) -> None:
        """End the sweep; the next one starts afresh."""
        self._recent.clear()
        self._best = None
        self._swept_mm = 0.0
        self._reported = False

    def _below_best(self, reading: Reading) -> float:
        assert self._best is not None
        return self._sign * (self._best[1].value_mm - reading.value_mm)

    def _weigh(self, elapsed_s: float, reading: Reading) -> None:
        near_mm = reading.resolution_mm + _EPS_MM
        if self._best is None or self._below_best(reading) < -_EPS_MM:
            self._swept_mm -= self._below_best(reading) if self._best else 0.0
            self._best = (elapsed_s, reading)
            self._support = 1 + sum(self._below_best(r) <= near_mm for _, r in self._recent)
        elif self._below_best(reading) <= near_mm:
            self._support += 1
        self._swept_mm = max(self._swept_mm, self._below_best(reading))

    def _restart_from_recent(self) -> None:
        """Drop an extreme that no other frame supports; weigh what came after it."""
        best = self._best
        later = [frame for frame in self._recent if best is None or frame[1] is not best[1]]
        self._best = None
        self._recent.clear()
        for elapsed_s, reading in later:
            self._weigh(elapsed_s, reading)
            self._recent.append((elapsed_s, reading))


class SpikeGate:
    """Holds back a frame that jumps until the next one shows whether the gauge really moved.

    A frame that differs by more than a sweep band from both its neighbours is a
    spike: it stays in the journal but must not end a rest or a sweep. At rest
    nothing is delayed.
    """

    def __init__(self) -> None:
        self._last: Reading | None = None
        self._held: tuple[float, Reading] | None = None

    def pass_on(self, elapsed_s: float, reading: Reading) -> list[tuple[float, Reading]]:
        """Take a frame; return the frames that may now be used, with their times."""
        held, last = self._held, self._last
        self._held = None
        if held is None:
            if last is not None and _far(reading, last):
                self._held = (elapsed_s, reading)
                return []
            self._last = reading
            return [(elapsed_s, reading)]
        if last is not None and not _far(reading, last):
            self._last = reading  # back where it was: the held frame was a spike
            return [(elapsed_s, reading)]
        self._last = held[1]
        return [held, *self.pass_on(elapsed_s, reading)]


def make_seeker(seek: Seek, *, rest_mm: float | None) -> Seeker:
    """Return a seeker for one step of the plan.

    Args:
        seek: how the reading is sought.
        rest_mm: where the gauge rests since its last reading; it must move first.
    """
    if seek is Seek.SETTLED:
        return SettledSeeker(rest_mm)
    return SweepSeeker(1 if seek is Seek.MAXIMUM else -1)


def _span(run: deque[tuple[float, float]]) -> float:
    values = [value_mm for _, value_mm in run]
    return max(values) - min(values)


def _far(one: Reading, other: Reading) -> bool:
    return abs(one.value_mm - other.value_mm) > SWEEP_BAND_MM
