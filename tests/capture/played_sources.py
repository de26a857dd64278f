"""Sources for the tests of listening and running: played events on clocks of their own."""

from __future__ import annotations

import heapq
import threading
from collections import deque
from collections.abc import Iterable, Iterator, Sequence

from gaugelink.capture.runner import Polled, Source, _poll
from gaugelink.model import GaugeEvent, GaugeEventBody

Script = Iterable[tuple[float, GaugeEventBody]]


class Played:
    """Gives each body of ``script`` at its time; its clock starts at ``begun_s``."""

    def __init__(self, gauge_id: str, script: Script, begun_s: float = 0.0) -> None:
        self.gauge_id = gauge_id
        self._script = deque(script)
        self._begun_s = begun_s
        self._now_s = begun_s

    @property
    def ended(self) -> bool:
        return not self._script

    def now_s(self) -> float:
        return self._now_s

    def poll(self, timeout_s: float) -> tuple[GaugeEvent, ...]:
        until_s = self._now_s + timeout_s
        if not self._script or self._begun_s + self._script[0][0] > until_s:
            self._now_s = until_s
            return ()
        at_s, body = self._script.popleft()
        self._now_s = self._begun_s + at_s
        return (GaugeEvent(gauge_id=self.gauge_id, elapsed_s=self._now_s, body=body),)


class Silent:
    """Never says anything and never ends."""

    def __init__(self, gauge_id: str) -> None:
        self.gauge_id = gauge_id
        self.ended = False
        self.n_polls = 0
        self._nothing = threading.Event()

    def now_s(self) -> float:
        return 0.0

    def poll(self, timeout_s: float) -> tuple[GaugeEvent, ...]:
        self.n_polls += 1
        self._nothing.wait(timeout_s)
        return ()


class Failing(Silent):
    """Gives one event, then its thread dies of ``error``."""

    def __init__(self, gauge_id: str, first: GaugeEvent, error: BaseException) -> None:
        super().__init__(gauge_id)
        self._first: tuple[GaugeEvent, ...] = (first,)
        self._error = error

    def poll(self, timeout_s: float) -> tuple[GaugeEvent, ...]:
        if not self._first:
            raise self._error
        first, self._first = self._first, ()
        return first


def heard(*events: GaugeEvent, ended: bool = False) -> Polled:
    """Return one poll that brought ``events``, heard the moment they came."""
    last = events[-1]
    return Polled(gauge_id=last.gauge_id, events=events, now_s=last.elapsed_s, ended=ended)


def listen_in_turn(sources: Sequence[Source]) -> Iterator[Polled]:
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
