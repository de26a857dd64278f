"""What a person asks for at a keyboard or on a display, on its way through the journal.

Both are sources like the gauges, so that the journal keeps the order of all. A display says what
it showed when the command was given, and a command that is late is refused: two taps, two
displays or one that lagged never take back another reading than the one that was meant.
"""

from __future__ import annotations

import queue
import re
import time
from dataclasses import dataclass
from enum import StrEnum

from gaugelink.model import Fault, FaultKind, GaugeEvent

DISPLAY_ID = "display:"
_TYPED = re.compile(r"([usq])(?:@(\d{1,9}))?", re.ASCII)


class Command(StrEnum):
    """What a key asks for."""

    UNDO = "undo"
    SKIP = "skip"
    STOP = "stop"


KEYS = {"u": Command.UNDO, "s": Command.SKIP, "q": Command.STOP}


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyOrder:
    """A command; with ``about`` it holds only while that is still ``CaptureSession.about``."""

    command: Command
    about: int | None = None


def order_of(raw: bytes) -> KeyOrder | None:
    """Return what a typed line asks for, or None when it is something else.

    >>> order_of(b" U "), order_of(b"s@41").about, order_of(b"11.43")
    (KeyOrder(command=<Command.UNDO: 'undo'>, about=None), 41, None)
    """
    found = _TYPED.fullmatch(raw.decode("ascii", "replace").strip().lower())
    if found is None:
        return None
    key, about = found.groups()
    return KeyOrder(command=KEYS[key], about=None if about is None else int(about))


class DisplayKeys:
    """The commands of all displays; any thread may ``put`` one.

    Args:
        gauge_id: the identity that its events carry.
    """

    def __init__(self, gauge_id: str = DISPLAY_ID) -> None:
        self.gauge_id = gauge_id
        self.ended = False
        self._asked: queue.SimpleQueue[bytes] = queue.SimpleQueue()

    def put(self, command: Command, about: int | None = None) -> None:
        """Ask for something; ``about`` is what the display showed."""
        key = next(key for key, each in KEYS.items() if each is command)
        self._asked.put(key.encode() if about is None else f"{key}@{about}".encode())

    def poll(self, timeout_s: float) -> tuple[GaugeEvent, ...]:
        """Wait for a command, ``timeout_s`` at most."""
        try:
            raw = self._asked.get(timeout=timeout_s)
        except queue.Empty:
            return ()
        body = Fault(kind=FaultKind.UNPARSED, reason="a command from a display", raw=raw)
        return (GaugeEvent(gauge_id=self.gauge_id, elapsed_s=self.now_s(), body=body),)

    def now_s(self) -> float:
        """The clock that stamps the commands."""
        return time.monotonic()
