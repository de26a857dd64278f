"""What lies between the job and its viewers: one slot for snapshots, and a desk for buttons.

The thread that measures replaces one snapshot and wakes who waits; it never waits itself. A
viewer takes the newest there is, so one that is slow misses some and is right again with the next.
"""

from __future__ import annotations

import json
import queue
import threading
import time
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, TypeAlias, final

from gaugelink.capture.runner import KEYS, Command
from gaugelink.model import Fault, FaultKind, GaugeEvent

Snapshot: TypeAlias = Mapping[str, Any]
MOST_VIEWERS = 8
APART_S = 1 / 15  # between two snapshots of a viewer, unless something was done: judgement
DISPLAY_ID = "display"
_BYTES = {command: key.encode() for key, command in KEYS.items()}


def now_ms() -> float:
    """The clock of snapshots and of the acts in them, in ms; only differences mean anything."""
    return round(time.monotonic() * 1000.0, 1)


@final
class Board:
    """The newest snapshot of a job, for up to ``MOST_VIEWERS`` viewers."""

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._newest: Snapshot = {}
        self._n_laid = 0
        self._n_urgent = 0
        self._n_viewers = 0
        self._is_closed = False

    @property
    def newest(self) -> Snapshot:
        """The last snapshot that was laid down; empty before the first."""
        return self._newest

    @property
    def n_viewers(self) -> int:
        """How many are looking."""
        return self._n_viewers

    def lay(self, snapshot: Snapshot, *, urgent: bool = False) -> None:
        """Replace the snapshot; an ``urgent`` one is sent at once, whoever had one just now."""
        with self._changed:
            self._newest = snapshot
            self._n_laid += 1
            self._n_urgent += urgent
            self._changed.notify_all()

    def close(self) -> None:
        """Let every viewer take the last snapshot and go."""
        with self._changed:
            self._is_closed = True
            self._changed.notify_all()

    def wait_until_empty(self, timeout_s: float) -> bool:
        """Wait until all viewers have gone; tell whether they have."""
        with self._changed:
            return self._changed.wait_for(lambda: self._n_viewers == 0, timeout_s)

    def join(self) -> Viewing | None:
        """Return a view of the board, or None where as many look as may."""
        with self._changed:
            if self._n_viewers >= MOST_VIEWERS:
                return None
            self._n_viewers += 1
        return Viewing(self)

    def leave(self) -> None:
        """Take one viewer off."""
        with self._changed:
            self._n_viewers -= 1
            self._changed.notify_all()

    def wait_for(self, seen: Seen, timeout_s: float) -> tuple[Snapshot, Seen, bool]:
        """Wait for a snapshot that was not seen.

        Args:
            seen: what the viewer had.
            timeout_s: how long.

        Returns:
            The newest snapshot, how many there were, and whether it was the last. Where nothing
            came in time the number is as before.
        """
        with self._changed:
            self._changed.wait_for(lambda: self._is_closed or self._n_laid > seen.n_laid, timeout_s)
            left_s = seen.taken_s + APART_S - time.monotonic()
            if left_s > 0.0 and self._n_laid > seen.n_laid:
                # A figure may wait for the next one, an act may not.
                self._changed.wait_for(
                    lambda: self._is_closed or self._n_urgent > seen.n_urgent, left_s
                )
            now = Seen(n_laid=self._n_laid, n_urgent=self._n_urgent, taken_s=time.monotonic())
            return self._newest, now if now.n_laid > seen.n_laid else seen, self._is_closed


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """How many snapshots a viewer has had, urgent ones among them, and when the last."""

    n_laid: int = 0
    n_urgent: int = 0
    taken_s: float = -1.0


@final
class Viewing:
    """One viewer's way of looking at the board; a context manager."""

    def __init__(self, board: Board) -> None:
        self._board = board
        self._seen = Seen()
        self.is_over = False

    def __enter__(self) -> Viewing:
        return self

    def __exit__(self, *exc: object) -> None:
        self._board.leave()

    def take(self, timeout_s: float) -> bytes:
        """Return the next snapshot as a line, and an empty line where none came in time."""
        snapshot, seen, self.is_over = self._board.wait_for(self._seen, timeout_s)
        is_new, self._seen = seen.n_laid > self._seen.n_laid, seen
        if not is_new:
            return b"" if self.is_over else b"\n"
        return json.dumps(snapshot, ensure_ascii=False, allow_nan=False).encode() + b"\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class Press:
    """A button, and what its viewer saw: the run, the last reading, and what was asked for."""

    command: Command
    run: str
    about: int | None
    ask: str

    def is_meant(self, now: Snapshot) -> bool:
        """Tell whether what was seen still holds; a stop needs no more than the run."""
        if self.run != now.get("run") or self.command not in now.get("can", ()):
            return False
        match self.command:
            case Command.UNDO:
                return self.about == now.get("about")
            case Command.SKIP:
                return bool(self.ask) and self.ask == (now.get("ask") or {}).get("id")
            case Command.STOP:
                return True


def read_press(said: object) -> Press | None:
    """Read what a viewer sent, parsed from JSON; None where it is not a button."""
    match said:
        case {"command": str(command), "run": str(run), **rest} if command in list(Command):
            about, ask = rest.get("about"), rest.get("ask", "")
            if isinstance(about, int | None) and isinstance(ask, str):
                return Press(command=Command(command), run=run, about=about, ask=ask)
    return None


class Asked(IntEnum):
    """What becomes of a button that was pressed: the code of the answer."""

    ACCEPTED = 202
    NOT_A_COMMAND = 400
    STALE = 409


@final
class Desk:
    """Takes buttons from viewers; for the job a source like the keyboard.

    What the viewer saw is compared with the newest snapshot when the button comes, and once more
    when the job gets to it, by the thread of the job: a double tap, two tablets or one that lags
    never take back another reading than was meant.

    Args:
        board: what the viewers saw.
    """

    gauge_id = DISPLAY_ID
    ended = False

    def __init__(self, board: Board) -> None:
        self._board = board
        self._pressed: queue.SimpleQueue[tuple[GaugeEvent, Press]] = queue.SimpleQueue()
        self._given: deque[Press] = deque()

    def press(self, said: object) -> Asked:
        """Take what a viewer sent: ``{"command", "run", "about", "ask"}``."""
        press = read_press(said)
        if press is None:
            return Asked.NOT_A_COMMAND
        if not press.is_meant(self._board.newest):
            return Asked.STALE
        body = Fault(
            kind=FaultKind.UNPARSED, reason="a button of the display", raw=_BYTES[press.command]
        )
        event = GaugeEvent(gauge_id=DISPLAY_ID, elapsed_s=self.now_s(), body=body)
        self._pressed.put((event, press))
        return Asked.ACCEPTED

    def poll(self, timeout_s: float) -> tuple[GaugeEvent, ...]:
        """Return the next button, or nothing after ``timeout_s``."""
        try:
            event, press = self._pressed.get(timeout=timeout_s)
        except queue.Empty:
            return ()
        self._given.append(press)
        return (event,)

    def still_meant(self, now: Snapshot) -> bool:
        """Tell, once for each button that was polled, whether what its viewer saw still holds."""
        return self._given.popleft().is_meant(now)

    def now_s(self) -> float:
        """The clock that stamps its events, in s."""
        return time.monotonic()
