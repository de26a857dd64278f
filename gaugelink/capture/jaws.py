"""What closed jaws mean: the zero before and after, and, closed twice, an undo.

All limits are common practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from enum import StrEnum

from gaugelink.capture.plan import Step
from gaugelink.model import Reading

DOUBLE_CLOSE_S = 3.0  # the second closing must follow within this time
OPEN_MM = 0.3  # between two closings the jaws must have been open this far
ZERO_LIMIT_MM = 0.1  # farther off with closed jaws, the gauge wants setting, not correcting
ZERO_LIMIT_STEPS = 20  # for a micrometer that is less: a spring is thinner than 0.1 mm
CLOSED_STEPS = 5  # jaws that closed on a little dirt are closed
_EPS_MM = 1e-9


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


def is_opening_zero(reading: Reading) -> bool:
    """Tell whether a reading may be the zero before."""
    limit_mm = min(ZERO_LIMIT_MM, ZERO_LIMIT_STEPS * reading.resolution_mm)
    return abs(reading.value_mm) <= limit_mm + _EPS_MM


def is_closing_zero(offset_mm: float, taken: Sequence[Reading]) -> bool:
    """Tell whether a frame ``offset_mm`` from the zero before may be the zero after.

    A gauge may have drifted, but not halfway to the smallest size it has ``taken``:
    that would be one more reading of a thin spring.
    """
    return abs(offset_mm) <= min(ZERO_LIMIT_MM, halfway_mm(taken)) + _EPS_MM


def halfway_mm(taken: Sequence[Reading]) -> float:
    """Return half of the smallest size that was taken, in mm; infinity before there is one."""
    return min((reading.value_mm for reading in taken), default=math.inf) / 2


def shows_closed_jaws(offset_mm: float, step_mm: float, step: Step | None) -> bool:
    """Tell whether a frame shows closed jaws, and not a thin part that ``step`` asks for."""
    limit_mm = CLOSED_STEPS * step_mm
    if step is not None:
        limit_mm = min(limit_mm, max(step_mm, step.low_mm - step_mm))
    return abs(offset_mm) <= limit_mm + _EPS_MM
