"""The state of a sitting as plain data: whole, in JSON, and without a clock of its own."""

from __future__ import annotations

import json

from capture_bench import BORE, DEPTH, LID, MICROMETER, STREAMING, Bench

from gaugelink.capture.hand import LETTERS_IN_CUE, LETTERS_IN_WORD
from gaugelink.capture.snapshot import LAST, Lately, snapshot
from gaugelink.model import LinkChange

MOST_BYTES = 1500  # of a snapshot on the wire: a judgement of what a workshop's net carries


class Shown(Bench):
    """A bench whose acts are told to a display."""

    lately = Lately()

    @property
    def data(self) -> dict:
        data = snapshot(self.session, self.lately, job_id=7, title="bag 112")
        return json.loads(json.dumps(data))

    def _note(self, acts):
        self.lately.acted(acts, self.now_s)
        return super()._note(acts)


def shown(*steps, gauges=(STREAMING,)) -> Shown:
    bench = Shown(*steps, gauges=gauges)
    bench.lately = Lately()
    return bench


def test_it_tells_the_step_the_hand_and_what_comes_next():
    bench = shown(DEPTH, LID, gauges=(STREAMING, MICROMETER))
    assert bench.data["phase"] == "opening"
    assert bench.data["ask"]["word"] == "CLOSE"
    bench.rest("0.00")
    assert (bench.data["phase"], bench.data["gauge"]["do"]) == ("measuring", "open")
    bench.rest("2.31", for_s=0.4)
    data = bench.data
    assert data["job"] == {"id": 7, "title": "bag 112"}
    assert data["ask"] | {"cue": "", "spoken": ""} == {
        "id": "depth-1",
        "word": "DEPTH",
        "below": "",
        "n": 1,
        "m": 2,
        "cue": "",
        "spoken": "",
    }
    assert data["gauge"]["live"] == "2.31"
    assert data["gauge"]["do"] == "hold"
    assert 0.3 < data["gauge"]["still"] < 0.6
    assert 280 < data["gauge"]["full_in_ms"] < 490
    assert data["others"][0]["line"] == "close the anvils, press"
    assert data["next"] == "close the jaws"
    bench.rest("2.31", for_s=0.6)
    assert bench.data["gauge"] | {"live": ""} == {
        "kind": "caliper",
        "live": "",
        "unit": "mm",
        "do": "lift",
        "still": None,
        "full_in_ms": None,
    }
    assert bench.data["acts"][-1]["said"] == "taken, depth 2.31"


def test_about_changes_with_what_stands_and_with_nothing_else():
    bench = shown(BORE, DEPTH)
    bench.rest("0.00")
    before = bench.data["about"]
    bench.rest("2.31", for_s=3.0)  # no bore: refused or unrocked, and nothing stands
    assert bench.data["about"] == before
    bench.skip()
    skipped = bench.data["about"]
    assert skipped > before
    bench.undo()
    assert bench.data["about"] > skipped


def test_it_tells_the_last_signals_in_order_and_never_more():
    bench = shown(DEPTH)
    bench.rest("0.00")
    for _ in range(LAST):
        bench.skip()
        bench.undo()
    numbers = [act["seq"] for act in bench.data["acts"]]
    assert numbers == list(range(numbers[-1] - LAST + 1, numbers[-1] + 1))


def test_a_whole_job_stays_small_and_its_words_short():
    bench = shown(DEPTH, LID, gauges=(STREAMING, MICROMETER))
    bench.rest("0.00")
    for value in ("2.31", "9.99", "2.34", "0.00", "3.50", "2.33"):
        bench.rest(value, for_s=1.2)
        data = bench.data
        assert len(json.dumps(data, separators=(",", ":"))) < MOST_BYTES
        assert len(data["ask"]["word"]) <= LETTERS_IN_WORD
        assert len(data["ask"]["cue"]) <= LETTERS_IN_CUE


def test_an_unplugged_gauge_is_told_and_has_no_figures():
    bench = shown(DEPTH)
    bench.rest("0.00")
    body = LinkChange(connected=False, text="gone")
    bench.send(body)
    assert bench.data["gauge"] == {
        "kind": "caliper",
        "live": "",
        "unit": "",
        "do": "unplugged",
        "still": None,
        "full_in_ms": None,
    }


def test_a_silent_gauge_has_no_figures_either():
    bench = shown(DEPTH)
    bench.rest("0.00")
    bench.lane.seen(bench.now_s + 3.0)
    assert (bench.data["gauge"]["do"], bench.data["gauge"]["live"]) == ("silent", "")


def test_what_can_be_asked_is_what_does_something():
    bench = shown(DEPTH)
    assert bench.data["can"] == ["stop"]
    bench.rest("0.00")
    assert bench.data["can"] == ["skip", "stop"]
    bench.rest("2.31")
    assert bench.data["can"] == ["undo", "skip", "stop"]
    over = snapshot(bench.session, bench.lately, job_id=7, title="", is_over=True, answer={"a": 1})
    assert (over["phase"], over["can"], over["answer"]) == ("ended", [], {"a": 1})
