"""Two equal bursts in a row: the only proof there is in a format without any check.

A single burst may have lost its first bit and read half the value, without a trace.
The same damage twice in a row is unlikely, and a gauge at rest repeats itself anyway.
A gauge that moves gives nothing until it rests, and no fault for each burst either.

No bytes get lost: an event's ``raw`` holds those of all bursts since the event before,
the last of them its own. When the display never rests (a flickering digit, a bad
line), every ``MAX_WAITING`` bursts end in one fault, which also bounds the memory.
"""

from __future__ import annotations

from dataclasses import replace

from gaugelink.devices.decoders.bits import BitFrame
from gaugelink.model import Fault, FaultKind, Frame, WireEvent

MAX_WAITING = 32  # 4 to 8 s of a free-running gauge: longer than a hand moves the jaws


class EqualPair:
    """Lets a value pass when the burst before had the same bits, and again each time after."""

    def __init__(self) -> None:
        self._before: tuple[int, ...] | None = None
        self._waiting: list[bytes] = []

    def judge(self, frame: BitFrame, event: Frame | Fault) -> list[WireEvent]:
        """Return the event of a burst, or nothing while it has no equal.

        Args:
            frame: the burst.
            event: what it means, taken alone; a fault passes at once and starts over.
        """
        self._waiting.append(frame.raw)
        bits = frame.bits()
        before, self._before = self._before, None if isinstance(event, Fault) else bits
        if isinstance(event, Fault) or bits == before:
            return [self._release(event)]
        if len(self._waiting) < MAX_WAITING:
            return []
        reason = f"{MAX_WAITING} frames without two equal ones in a row: does the gauge rest?"
        return [self._release(Fault(kind=FaultKind.UNPARSED, reason=reason, raw=b""))]

    def reset(self) -> None:
        """Forget the bursts before (after a reconnection)."""
        self._before = None
        self._waiting.clear()

    def _release(self, event: Frame | Fault) -> Frame | Fault:
        raw = b"".join(self._waiting)
        self._waiting.clear()
        return replace(event, raw=raw)
