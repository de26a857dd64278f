"""Gauges are listened to in the order of time, or each in a thread that ends."""

from __future__ import annotations

import threading
import time
from itertools import islice

import pytest
from capture_bench import reading
from played_sources import Failing, Played, Silent, listen_in_turn

from gaugelink.capture.runner import listen_in_threads
from gaugelink.errors import GaugeDisconnected
from gaugelink.model import GaugeEvent

ONE = reading("5.00")


def times(gauge_id: str, *at_s: float, begun_s: float = 0.0) -> Played:
    return Played(gauge_id, [(t, ONE) for t in at_s], begun_s)


@pytest.mark.parametrize(
    ("sources", "expected"),
    [
        ([times("a", 1.0, 2.0, 3.0)], "aaa"),
        ([times("a", 1.0, 5.0), times("b", 2.0, 3.0)], "abba"),
        # a gauge that streams does not hold its clock back behind a silent one
        ([times("a", *(n / 20 for n in range(1, 40))), times("b", 1.0)], "a" * 20 + "b" + "a" * 19),
        # only differences on one clock mean anything
        ([times("a", 1.0, 5.0, begun_s=9000.0), times("b", 2.0, 3.0)], "abba"),
    ],
)
def test_played_sources_are_heard_in_the_order_of_time(sources, expected):
    order = [event.gauge_id for item in listen_in_turn(sources) for event in item.events]
    assert "".join(order) == expected


def test_every_source_says_that_it_has_ended_once():
    items = list(listen_in_turn([times("a", 1.0), times("b", 7.0), times("c")]))
    assert sorted(item.gauge_id for item in items if item.ended) == ["a", "b", "c"]
    assert [item.ended for item in items][-1]


def test_sources_on_one_clock_take_turns():
    clock_s = [0.0]

    class OnSharedClock(Silent):
        def now_s(self) -> float:
            return clock_s[0]

        def poll(self, timeout_s: float) -> tuple[GaugeEvent, ...]:
            clock_s[0] += timeout_s
            return ()

    sources = [OnSharedClock("a"), OnSharedClock("b")]
    order = [item.gauge_id for item in islice(listen_in_turn(sources), 8)]
    assert order == ["a", "b"] * 4


def test_threads_bring_everything_and_the_listening_ends_with_the_sources():
    sources = [times("a", *range(50)), times("b", *range(70))]
    with listen_in_threads(sources) as heard:
        events = [event for item in heard if item for event in item.events]
    for gauge_id, n_events in (("a", 50), ("b", 70)):
        at_s = [event.elapsed_s for event in events if event.gauge_id == gauge_id]
        assert at_s == list(range(n_events))


def test_threads_end_with_the_block():
    source = Silent("a")
    before = threading.active_count()
    with listen_in_threads([source]) as heard:
        assert next(item for item in heard if item).events == ()
    assert threading.active_count() == before


@pytest.mark.parametrize("error", [KeyboardInterrupt(), GaugeDisconnected("gone")])
def test_threads_end_when_the_block_is_left_by_an_error(error):
    before = threading.active_count()
    with pytest.raises(type(error)), listen_in_threads([Silent("a"), Silent("b")]) as heard:
        next(heard)
        raise error
    assert threading.active_count() == before


def test_error_in_a_thread_comes_after_what_the_thread_brought():
    first = GaugeEvent(gauge_id="a", elapsed_s=1.0, body=ONE)
    lost = GaugeDisconnected("gone")
    with listen_in_threads([Failing("a", first, lost)]) as heard:
        items = [item for item in heard if item]
    assert [event for item in items for event in item.events] == [first]
    assert items[-1].error is lost


class Gated:
    """Gives two readings, one a poll, and says when both were read."""

    gauge_id = "caliper"
    ended = False

    def __init__(self) -> None:
        self.left = ["0.00", "2.31"]
        self.both_read = threading.Event()

    def now_s(self) -> float:
        return 0.0

    def poll(self, timeout_s: float) -> tuple[GaugeEvent, ...]:
        if not self.left:
            self.both_read.set()  # the last one is in the queue by now
            time.sleep(timeout_s)
            return ()
        displayed = self.left.pop(0)
        body = reading(displayed)
        return (GaugeEvent(gauge_id=self.gauge_id, elapsed_s=0.0, body=body),)


def test_a_thread_brings_what_it_read_before_the_stop() -> None:
    source, over = Gated(), threading.Event()
    brought: list[GaugeEvent] = []
    before = threading.active_count()
    with listen_in_threads([source], over.is_set) as heard:
        for item in heard:
            brought += item.events if item else ()
            assert source.both_read.wait(60.0)
            over.set()
    assert [getattr(event.body, "displayed", "") for event in brought] == ["0.00", "2.31"]
    assert threading.active_count() == before
