"""Jaws closed once ends a job; closed twice takes the last reading back."""

from __future__ import annotations

from enum import StrEnum

DOUBLE_CLOSE_S = 3.0  # the second closing must follow within this time
OPEN_MM = 0.3  # between two closings the jaws must have been open this far
CLOSED_FRAMES = 2  # a stream must show closed jaws twice running: one frame may be a glitch


class ZeroSignal(StrEnum):
    """What the jaws have just done."""

    NONE = "none"
    CLOSED = "closed"
    CLOSED_TWICE = "closed twice"


class ZeroWatch:
    """Counts closings of the jaws in frames and their times.

    Args:
        frames_needed: consecutive closed frames that make a closing; 1 for a gauge
            that sends on its button, where each press at zero is a closing.
    """

    def __init__(self, frames_needed: int) -> None:
        self._frames_needed = frames_needed
        self._n_closed = 0
        self._opened = frames_needed == 1
        self._last_s: float | None = None

    @property
    def is_closed(self) -> bool:
        """True while enough frames running showed closed jaws."""
        return self._n_closed >= self._frames_needed

    def feed(self, elapsed_s: float, offset_mm: float, *, closed: bool) -> ZeroSignal:
        """Take one frame, ``offset_mm`` from the zero reading, that shows closed jaws or not."""
        if not closed:
            self._n_closed = 0
            self._opened = self._opened or offset_mm > OPEN_MM
            return ZeroSignal.NONE
        self._n_closed += 1
        if not self._opened or not self.is_closed:
            return ZeroSignal.NONE
        return self._closing(elapsed_s)

    def forget(self) -> None:
        """A reading was taken: a closing before it is no half of a double one."""
        self._last_s = None

    def _closing(self, elapsed_s: float) -> ZeroSignal:
        self._opened = self._frames_needed == 1
        twice = self._last_s is not None and elapsed_s - self._last_s <= DOUBLE_CLOSE_S
        self._last_s = None if twice else elapsed_s
        return ZeroSignal.CLOSED_TWICE if twice else ZeroSignal.CLOSED
