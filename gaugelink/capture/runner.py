"""The clock edge of a job: listens to its gauges, keeps what is heard, then acknowledges it.

One thread a gauge does nothing but read, so that a slow disk never loses a byte. All else
is done in order by the calling thread: write the event, let the session act, write the
acts, commit, and only then tell the person.
"""

from __future__ import annotations

import math
import queue
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from itertools import chain
from typing import Protocol

from gaugelink.capture.acts import Act
from gaugelink.capture.session import CaptureSession
from gaugelink.model import Fault, GaugeEvent

POLL_S = 0.1  # how long a read may block: bounds how late a stop is noticed
STOP_S = 5 * POLL_S  # how long a thread may take to notice
COMMIT_S = 0.25  # unacknowledged events (a stream in motion) reach the disk at least this often
TYPED = "keys:"  # a gauge at such an address types, and so does the person


class Command(StrEnum):
    """What a key asks for."""

    UNDO = "undo"
    SKIP = "skip"
    STOP = "stop"


KEYS = {"u": Command.UNDO, "s": Command.SKIP, "q": Command.STOP}


def command_of(raw: bytes) -> Command | None:
    """Return the command that a typed line means, or None when it is something else."""
    return KEYS.get(raw.decode("ascii", "replace").strip().lower())


class Source(Protocol):
    """What is needed of a gauge."""

    @property
    def gauge_id(self) -> str:
        """The identity that its events carry."""

    @property
    def ended(self) -> bool:
        """True when nothing will ever come again (end of a recording or of input)."""

    def poll(self, timeout_s: float) -> tuple[GaugeEvent, ...]:
        """Read once; when nothing comes, ``timeout_s`` has passed on its clock."""

    def now_s(self) -> float:
        """The clock that stamps its events."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Polled:
    """One poll of one source; ``error`` is what ended its thread."""

    gauge_id: str
    events: tuple[GaugeEvent, ...]
    now_s: float
    ended: bool = False
    error: BaseException | None = None


def never() -> bool:
    """Tell that nobody asks for a stop."""
    return False


@contextmanager
def listen_in_threads(
    sources: Sequence[Source], is_over: Callable[[], bool] = never
) -> Iterator[Iterator[Polled | None]]:
    """Poll each source in a thread of its own, which ends with the block.

    The iterator yields None when nothing at all comes, and ends when all sources have,
    or when it ``is_over`` and all that was read until then has been given.
    """
    heard: queue.SimpleQueue[Polled] = queue.SimpleQueue()
    stop = threading.Event()
    threads = [
        threading.Thread(target=_poll_until, args=(source, heard, stop), daemon=True)
        for source in sources
    ]
    for thread in threads:
        thread.start()

    def end() -> None:
        stop.set()
        for thread in threads:
            thread.join(timeout=STOP_S)

    try:
        yield chain(_take_from(heard, threads, is_over), _take_rest(heard, end))
    finally:
        end()


def _poll(source: Source) -> Polled:
    events = source.poll(POLL_S)
    ended = not events and source.ended
    now_s = events[-1].elapsed_s if events else source.now_s()
    return Polled(gauge_id=source.gauge_id, events=events, now_s=now_s, ended=ended)


def _poll_until(source: Source, heard: queue.SimpleQueue[Polled], stop: threading.Event) -> None:
    ended = False
    try:
        while not (ended or stop.is_set()):
            item = _poll(source)
            heard.put(item)
            ended = item.ended
    except BaseException as exc:  # handed to the thread that runs the job, which raises it
        heard.put(Polled(gauge_id=source.gauge_id, events=(), now_s=0.0, error=exc))


def _take_from(
    heard: queue.SimpleQueue[Polled],
    threads: Sequence[threading.Thread],
    is_over: Callable[[], bool],
) -> Iterator[Polled | None]:
    while not is_over():
        try:
            yield heard.get(timeout=POLL_S)
            continue
        except queue.Empty:
            alive = any(thread.is_alive() for thread in threads)
        if alive:
            yield None
        elif heard.empty():
            return


def _take_rest(heard: queue.SimpleQueue[Polled], end: Callable[[], None]) -> Iterator[Polled]:
    """Let the threads end, and give what they have read before."""
    end()
    while not heard.empty():
        yield heard.get()


class Keeper(Protocol):
    """Keeps events and acts; ``commit`` returns when they are durable."""

    def write(self, items: Sequence[GaugeEvent | Act]) -> None:
        """Add to the open transaction."""

    def commit(self) -> None:
        """Make everything written so far durable."""


class Watcher(Protocol):
    """Shows and sounds what happened."""

    def heard(self, event: GaugeEvent) -> None:
        """A gauge sent something; it is written, but perhaps not durable yet."""

    def acted(self, acts: Sequence[Act]) -> None:
        """The job changed, and that is durable."""

    def idle(self) -> None:
        """Nothing came for a moment: a chance to redraw."""


class Finish(StrEnum):
    """Why a sitting ended."""

    CLOSED = "closed"  # every gauge gave its closing zero
    STOPPED = "stopped"  # the person stopped; the job can be continued
    ENDED = "ended"  # the sources have nothing more (a recording, piped input)


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
        # Line noise on a cable may look like a key; only a keyboard has keys.
        self._typing = {console_id} | {
            gauge_id
            for gauge_id, lane in session.lanes.items()
            if lane.info.address.startswith(TYPED)
        }
        self._stopped = False
        self._closed = session.is_closed
        self._uncommitted_since: float | None = None

    def run(self, heard: Iterable[Polled | None], is_over: Callable[[], bool] = never) -> Finish:
        """Handle what is heard until the job closes, is stopped, or the gauges have ended.

        Args:
            heard: what the sources bring; it ends when ``is_over``.
            is_over: tells whether the end of what is heard is a stop.

        Raises:
            GaugelinkError: a source or the keeper failed; all that was acknowledged is kept.
        """
        live = set(self._session.lanes)
        for item in heard:
            if item is not None and item.error is not None:
                self._commit()
                raise item.error
            self._handle(item)
            if item is not None and item.ended:
                live.discard(item.gauge_id)
            if self._stopped or self._closed or not live:
                break
        if is_over() and not self._closed:
            self._stop()
        self._commit()
        if self._closed:
            return Finish.CLOSED
        return Finish.STOPPED if self._stopped else Finish.ENDED

    def _handle(self, item: Polled | None) -> None:
        if item is None or not item.events:
            self._watcher.idle()
        if item is not None:
            for event in item.events:
                self._handle_event(event)
            # A source that has ended cannot close its jaws a second time; an event brings its time.
            if item.ended or not item.events:
                self._let_pass(item.gauge_id, math.inf if item.ended else item.now_s)
        self._commit_when_due()

    def _handle_event(self, event: GaugeEvent) -> None:
        command = self._command_in(event)
        if command is None and event.gauge_id == self._console_id:
            return
        self._write([event])
        if command is not None:
            self._obey(command)
        elif not self._stopped:  # what came in one piece with the stop is kept, not taken
            if acts := self._session.hear(event):
                self._act(acts)
            self._watcher.heard(event)

    def _command_in(self, event: GaugeEvent) -> Command | None:
        if event.gauge_id not in self._typing or not isinstance(event.body, Fault):
            return None
        return command_of(event.body.raw)

    def _obey(self, command: Command) -> None:
        match command:
            case Command.UNDO:
                self._act(self._session.undo())
            case Command.SKIP:
                self._act(self._session.skip())
            case Command.STOP:
                self._stop()

    def _stop(self) -> None:
        self._stopped = True
        for gauge_id in self._session.lanes:  # a closing zero that was seen is given
            self._let_pass(gauge_id, math.inf)

    def _let_pass(self, gauge_id: str, now_s: float) -> None:
        lane = self._session.lanes.get(gauge_id)
        if lane is not None and lane.is_closing:  # nothing else waits for time to pass
            self._act(self._session.tick(gauge_id, now_s))

    def _act(self, acts: list[Act]) -> None:
        """Keep acts, and acknowledge them once they are durable."""
        if acts:
            self._write(acts)
            self._commit()
            self._closed = self._session.is_closed
            self._watcher.acted(acts)

    def _write(self, items: Sequence[GaugeEvent | Act]) -> None:
        self._keeper.write(items)
        if self._uncommitted_since is None:
            self._uncommitted_since = time.monotonic()

    def _commit_when_due(self) -> None:
        since = self._uncommitted_since
        if since is not None and time.monotonic() - since >= COMMIT_S:
            self._commit()

    def _commit(self) -> None:
        self._keeper.commit()
        self._uncommitted_since = None
