"""What lies between the job and its viewers: one slot for snapshots, and buttons back.

The thread that measures replaces one snapshot and wakes who waits; it never waits itself. A
viewer takes the newest there is, so one that is slow misses some and is right again with the next.
"""

from __future__ import annotations

import json
import secrets
import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, TypeAlias, final

from gaugelink.capture.acts import Act
from gaugelink.capture.commands import Command, DisplayKeys
from gaugelink.capture.session import CaptureSession
from gaugelink.capture.snapshot import Lately, snapshot
from gaugelink.model import GaugeEvent

Snapshot: TypeAlias = Mapping[str, Any]
MOST_VIEWERS = 8
APART_S = 1 / 15  # between two snapshots of a viewer, unless something was done: judgement
IDLE_S = 1.0
TOLD_S = 3.0  # how long an act is sent along; a page flashes none that is older than 1.5 s


@final
class Board:
    """The newest snapshot of a job, for up to ``MOST_VIEWERS`` viewers."""

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._newest: Snapshot = {}
        self._written: tuple[Snapshot, bytes] | None = None
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

    def tail(self, snapshot: Snapshot) -> bytes:
        """Return a snapshot in JSON after its opening brace; written once for all viewers."""
        written = self._written
        if written is None or written[0] is not snapshot:
            text = json.dumps(snapshot, ensure_ascii=False, allow_nan=False)
            self._written = written = (snapshot, text[1:].encode())
        return written[1]

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
        # Stamped when it goes, not when it was laid: a page tells the age of acts by it.
        return b'{"sent_ms": %.1f, %b\n' % (1000 * time.monotonic(), self._board.tail(snapshot))


class Pressed(IntEnum):
    """What becomes of a button that was pressed: the code of the answer."""

    ACCEPTED = 202
    NOT_A_COMMAND = 400
    STALE = 409


def press(said: object, newest: Snapshot, keys: DisplayKeys) -> Pressed:
    """Pass a button on to the job, if what its viewer saw still holds.

    That is asked once more by the job when it gets there: a double tap, two tablets or one that
    lags never take back another reading than was meant. A stop needs no more than the run.

    Args:
        said: what a viewer sent, parsed from JSON: ``{"command", "run", "about"}``.
        newest: the snapshot that a viewer has who is not late.
        keys: where commands go.
    """
    match said:
        case {"command": str(word), "run": str(run), "about": int(about)} if word in [*Command]:
            command = Command(word)
        case _:
            return Pressed.NOT_A_COMMAND
    is_late = command is not Command.STOP and about != newest.get("about")
    if is_late or run != newest.get("run") or command not in newest.get("can", ()):
        return Pressed.STALE
    keys.put(command, None if command is Command.STOP else about)
    return Pressed.ACCEPTED


@final
class BoardWatcher:
    """Lays what happens in a job on a board; a watcher of the thread that measures.

    Args:
        board: where viewers take it from.
        session: the job.
        job_id: its number.
        title: what the person calls it.
    """

    def __init__(self, board: Board, session: CaptureSession, *, job_id: int, title: str) -> None:
        self._board = board
        self._session = session
        self._job_id = job_id
        self._title = title
        self._run = secrets.token_hex(4)
        self._lately = Lately()
        self._n_laid = 0
        self._laid_s = -IDLE_S
        self._is_behind = True
        self._lay()

    def heard(self, event: GaugeEvent) -> None:
        """Show what a gauge sent, as often as it is read."""
        told = self._lately.heard(event, time.monotonic())
        self._is_behind = True
        if told or time.monotonic() - self._laid_s >= APART_S:
            self._lay(urgent=told)

    def acted(self, acts: Sequence[Act]) -> None:
        """Show what the job did; it is durable, so it may flash."""
        self._lately.acted(acts, time.monotonic())
        self._lay(urgent=True)

    def idle(self) -> None:
        """Show what was left out, and now and then that the job is alive."""
        if self._is_behind or time.monotonic() - self._laid_s >= IDLE_S:
            self._lay()

    def end(self, answer: Snapshot) -> None:
        """Show what the job came to: the last snapshot."""
        self._lay(urgent=True, answer=answer)

    def _lay(self, *, urgent: bool = False, answer: Snapshot | None = None) -> None:
        now_s = time.monotonic()
        self._n_laid += 1
        state = snapshot(
            self._session,
            self._lately,
            job_id=self._job_id,
            title=self._title,
            is_over=answer is not None,
            answer=answer,
        )
        state["acts"] = [act for act in state["acts"] if 1000 * (now_s - TOLD_S) <= act["at_ms"]]
        head = {"v": 1, "run": self._run, "seq": self._n_laid}
        self._board.lay(head | state, urgent=urgent)
        self._laid_s, self._is_behind = now_s, False
