"""The clock edge of a job: listens to the gauges, keeps what comes, then acknowledges.

One thread a gauge does nothing but read, so that a slow disk never loses a byte;
the calling thread does everything else in order: write the event, let the session
act, write the acts, commit, and only then tell the person.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from gaugelink.capture.acts import Act
from gaugelink.capture.commands import Command, command_of
from gaugelink.capture.session import CaptureSession
from gaugelink.model import Fault, GaugeEvent

POLL_S = 0.1  # how long a read may block: bounds how late a stop is noticed
COMMIT_S = 0.25  # unacknowledged events (a stream in motion) reach the disk at least this often


class Keeper(Protocol):
    """Keeps events and acts; ``commit`` returns when they are durable."""

    def write(self, items: Sequence[GaugeEvent | Act]) -> None:
        """Add to the open transaction."""

    def commit(self) -> None:
        """Make everything written so far durable."""


class Watcher(Protocol):
    """Shows and sounds what happened; called after it is durable."""

    def heard(self, event: GaugeEvent) -> None:
        """A gauge sent something."""

    def acted(self, acts: Sequence[Act]) -> None:
        """The job changed."""

    def idle(self) -> None:
        """Nothing came for a moment: a chance to redraw."""


class Source(Protocol):
    """What the runner needs of a gauge."""

    @property
    def gauge_id(self) -> str:
        """The identity that its events carry."""

    @property
    def ended(self) -> bool:
        """True when nothing will ever come again (end of a recording or of input)."""

    def poll(self, timeout_s: float) -> tuple[GaugeEvent, ...]:
        """Read once."""

    def now_s(self) -> float:
        """The clock that stamps its events."""


class Finish(StrEnum):
    """Why a sitting ended."""

    CLOSED = "closed"  # every gauge gave its closing zero
    STOPPED = "stopped"  # the person stopped; the job can be continued
    ENDED = "ended"  # the sources have nothing more (a recording, piped input)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """One poll of one source; ``error`` is what ended its thread."""

    gauge_id: str
    events: tuple[GaugeEvent, ...]
    now_s: float
    ended: bool = False
    error: BaseException | None = None


def listen_in_turn(sources: Sequence[Source]) -> Iterator[Heard]:
    """Poll the sources one after the other, without threads: exact and repeatable."""
    live = list(sources)
    while live:
        for source in tuple(live):
            events = source.poll(0.0)
            ended = source.ended and not events
            yield Heard(gauge_id=source.gauge_id, events=events, now_s=source.now_s(), ended=ended)
            if ended:
                live.remove(source)


@contextmanager
def listen_in_threads(sources: Sequence[Source]) -> Iterator[Iterator[Heard | None]]:
    """Poll each source in a thread of its own; the iterator yields None when all is quiet."""
    heard: queue.SimpleQueue[Heard] = queue.SimpleQueue()
    stop = threading.Event()
    threads = [
        threading.Thread(target=_poll_until, args=(source, heard, stop), daemon=True)
        for source in sources
    ]
    for thread in threads:
        thread.start()
    try:
        yield _take_from(heard)
    finally:
        stop.set()
        for thread in threads:
            thread.join(timeout=5 * POLL_S)


def _poll_until(source: Source, heard: queue.SimpleQueue[Heard], stop: threading.Event) -> None:
    try:
        while not stop.is_set():
            events = source.poll(POLL_S)
            ended = source.ended and not events
            gauge_id, now_s = source.gauge_id, source.now_s()
            heard.put(Heard(gauge_id=gauge_id, events=events, now_s=now_s, ended=ended))
            if ended:
                return
    except BaseException as exc:  # handed to the thread that runs the job, which raises it
        heard.put(Heard(gauge_id=source.gauge_id, events=(), now_s=0.0, error=exc))


def _take_from(heard: queue.SimpleQueue[Heard]) -> Iterator[Heard | None]:
    while True:
        try:
            yield heard.get(timeout=POLL_S)
        except queue.Empty:
            yield None


class Runner:
    """Runs one sitting of a job.

    Args:
        session: the job.
        keeper: where events and acts are kept.
        watcher: who shows and sounds them.
        console_id: the source that carries commands only, if there is one.
    """

    def __init__(
        self, session: CaptureSession, keeper: Keeper, watcher: Watcher, console_id: str = ""
    ) -> None:
        self._session = session
        self._keeper = keeper
        self._watcher = watcher
        self._console_id = console_id
        self._stopped = False
        self._uncommitted_since: float | None = None

    def run(self, heard: Iterable[Heard | None]) -> Finish:
        """Handle what is heard until the job closes, is stopped, or the gauges have ended.

        Raises:
            GaugelinkError: a source or the keeper failed; all that was acknowledged is kept.
        """
        live = set(self._session.lanes)
        for item in heard:
            if item is None:
                self._watcher.idle()
                self._commit_when_due()
                continue
            if item.error is not None:
                raise item.error
            self._handle(item)
            if item.ended:
                live.discard(item.gauge_id)
            if self._stopped or self._session.is_closed or not live:
                break
        self._commit()
        if self._session.is_closed:
            return Finish.CLOSED
        return Finish.STOPPED if self._stopped else Finish.ENDED

    def _handle(self, item: Heard) -> None:
        for event in item.events:
            self._handle_event(event)
        if item.gauge_id in self._session.lanes:
            self._act((), self._session.tick(item.gauge_id, item.now_s))
        self._commit_when_due()

    def _handle_event(self, event: GaugeEvent) -> None:
        command = command_of(event.body.raw) if isinstance(event.body, Fault) else None
        if command is not None:
            self._act((event,), self._obey(command, event.elapsed_s))
        elif event.gauge_id != self._console_id:
            self._act((event,), self._session.hear(event))
            self._watcher.heard(event)

    def _obey(self, command: Command, elapsed_s: float) -> list[Act]:
        if command is Command.UNDO:
            return self._session.undo(elapsed_s)
        if command is Command.SKIP:
            return self._session.skip()
        self._stopped = True
        return []

    def _act(self, events: Sequence[GaugeEvent], acts: list[Act]) -> None:
        """Keep events and acts; acknowledge the acts once they are durable."""
        if not events and not acts:
            return
        self._keeper.write([*events, *acts])
        self._uncommitted_since = self._uncommitted_since or time.monotonic()
        if acts:
            self._commit()
            self._watcher.acted(acts)

    def _commit_when_due(self) -> None:
        since = self._uncommitted_since
        if since is not None and time.monotonic() - since >= COMMIT_S:
            self._commit()

    def _commit(self) -> None:
        self._keeper.commit()
        self._uncommitted_since = None
