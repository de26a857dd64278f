"""Finding the reading in a stream of indications: a gauge at rest.

Times are the gauge's own clock; nothing here waits. A reading is always a frame
the gauge really sent, never an average.

Settled means that the indication stayed within one digital step for ``SETTLE_S``.
Standards for weighing ask for up to 5 s of rest; a hand-held gauge needs about 0.5
to 1 s, for which no standard exists (common practice).
"""

from __future__ import annotations

from collections import deque
from typing import Protocol, TypeAlias

from gaugelink.model import Reading

SETTLE_S = 0.7
MIN_FRAMES = 3  # at rest means several frames agree, however slow the gauge is
MAX_GAP_S = 2.5  # the slowest streams send once a second or two; a longer silence hides a move
MOVED_STEPS = 5  # display flicker of a gauge at rest stays well below
MOVED_MM = 0.02  # so does what finger pressure and warmth do to a fine micrometer
EPS_MM = 1e-9  # displayed values are decimal: rounding must not break "within one step",
EPS_S = 1e-6  # nor adding up periods "for 0.7 s"

TimedFrame: TypeAlias = tuple[float, Reading]


def moved_mm(step_mm: float) -> float:
    """Return the distance in mm beyond which a gauge with this step has been moved."""
    return max(MOVED_STEPS * step_mm, MOVED_MM) + EPS_MM


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
        if len(self._run) < MIN_FRAMES or elapsed_s - self._run[0][0] < SETTLE_S - EPS_S:
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
        while _span_mm(self._run) > reading.resolution_mm + EPS_MM:
            self._run.popleft()
        while len(self._run) > MIN_FRAMES and elapsed_s - self._run[1][0] >= SETTLE_S - EPS_S:
            self._run.popleft()


def _span_mm(run: deque[tuple[float, float]]) -> float:
    values = [value_mm for _, value_mm in run]
    return max(values) - min(values)
