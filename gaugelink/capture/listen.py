"""Listening to the gauges of a job: in threads at the bench, in turn where time is played.

One thread a gauge does nothing but read, so that a slow disk never loses a byte.
"""

from __future__ import annotations

import heapq
import queue
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import chain
from typing import Protocol

from gaugelink.model import GaugeEvent

POLL_S = 0.1  # how long a read may block: bounds how late a stop is noticed
STOP_S = 5 * POLL_S  # how long a thread may take to notice


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
class Heard:
    """One poll of one source; ``error`` is what ended its thread."""

    gauge_id: str
    events: tuple[GaugeEvent, ...]
    now_s: float
    ended: bool = False
    error: BaseException | None = None


def listen_in_turn(sources: Sequence[Source]) -> Iterator[Heard]:
    """Poll without threads, always the source whose clock has advanced least.

    So the events of recordings come in the order of their times, exact and repeatable;
    sources that share the machine's clock come round one after the other.
    """
    begun_s = [source.now_s() for source in sources]
    turns = [(0.0, i) for i in range(len(sources))]
    while turns:
        _, i = heapq.heappop(turns)
        heard = _poll(sources[i])
        if not heard.ended:
            heapq.heappush(turns, (heard.now_s - begun_s[i], i))
        yield heard


def never() -> bool:
    """Tell that nobody asks for a stop."""
    return False


@contextmanager
def listen_in_threads(
    sources: Sequence[Source], is_over: Callable[[], bool] = never
) -> Iterator[Iterator[Heard | None]]:
    """Poll each source in a thread of its own, which ends with the block.

    The iterator yields None when nothing at all comes, and ends when all sources have,
    or when it ``is_over`` and all that was read until then has been given.
    """
    heard: queue.SimpleQueue[Heard] = queue.SimpleQueue()
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


def _poll(source: Source) -> Heard:
    events = source.poll(POLL_S)
    ended = not events and source.ended
    return Heard(gauge_id=source.gauge_id, events=events, now_s=source.now_s(), ended=ended)


def _poll_until(source: Source, heard: queue.SimpleQueue[Heard], stop: threading.Event) -> None:
    ended = False
    try:
        while not (ended or stop.is_set()):
            item = _poll(source)
            heard.put(item)
            ended = item.ended
    except BaseException as exc:  # handed to the thread that runs the job, which raises it
        heard.put(Heard(gauge_id=source.gauge_id, events=(), now_s=0.0, error=exc))


def _take_from(
    heard: queue.SimpleQueue[Heard],
    threads: Sequence[threading.Thread],
    is_over: Callable[[], bool],
) -> Iterator[Heard | None]:
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


def _take_rest(heard: queue.SimpleQueue[Heard], end: Callable[[], None]) -> Iterator[Heard]:
    """Let the threads end, and give what they have read before."""
    end()
    while not heard.empty():
        yield heard.get()
