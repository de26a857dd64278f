"""What the hand has to do, and the short words for it, on every gauge and at every step."""

from __future__ import annotations

import math

import pytest
from capture_bench import BORE, DEPTH, LID, MICROMETER, STREAMING, THICKNESS, Bench, gauge, reading

from gaugelink.capture.check_plan import HELD_BY, CheckSession, length_name, make_check_plan
from gaugelink.capture.hand import (
    LETTERS_IN_CUE,
    LETTERS_IN_WORD,
    HandTask,
    asked,
    hand_task,
    held_share,
    place_words,
)
from gaugelink.capture.plan import MEASURANDS, make_plan
from gaugelink.capture.session import CaptureSession
from gaugelink.model import (
    DepthReference,
    Flag,
    GaugeEvent,
    GaugeKind,
    LinkChange,
    Sends,
    UnitSwitch,
)
from gaugelink.units import LengthUnit


def task(bench: Bench) -> HandTask:
    return hand_task(bench.lane)


def test_a_stream_is_lifted_after_each_reading_and_held_for_the_next():
    bench = Bench(DEPTH, gauges=[STREAMING])
    assert task(bench) is HandTask.CLOSE
    bench.rest("5.00", for_s=0.2)
    assert task(bench) is HandTask.CLOSE  # at rest, but with open jaws
    bench.rest("0.00", for_s=0.4)
    assert task(bench) is HandTask.HOLD
    bench.rest("0.00", for_s=0.6)
    assert task(bench) is HandTask.OPEN  # the zero is taken
    bench.rest("2.31", for_s=0.5)
    assert task(bench) is HandTask.HOLD
    bench.rest("2.31", for_s=0.4)
    assert task(bench) is HandTask.LIFT
    bench.rest("2.60", for_s=0.2)
    assert task(bench) is HandTask.HOLD
    bench.rest("2.33")
    assert task(bench) is HandTask.CLOSE  # all is measured
    bench.rest("0.00", for_s=0.9)
    assert task(bench) is HandTask.WAIT
    bench.wait(3.5)
    assert task(bench) is HandTask.DONE


def test_a_bore_is_rocked_before_it_is_held():
    bench = Bench(BORE, gauges=[STREAMING])
    bench.rest("0.00")
    bench.rest("11.20", for_s=3.0)
    assert (task(bench), held_share(bench.lane)) == (HandTask.ROCK, None)
    bench.stream(f"{11.43 - 0.2 * abs(math.cos(n / 4)):.2f}" for n in range(26))
    assert task(bench) is HandTask.HOLD
    assert (held_share(bench.lane) or 0.0) > 0.0


def test_jaws_closed_between_two_readings_are_to_be_opened():
    bench = Bench(DEPTH, gauges=[STREAMING])
    bench.rest("0.00")
    bench.rest("2.31")
    bench.rest("0.00")
    assert task(bench) is HandTask.OPEN


def test_a_thin_spring_is_not_closed_jaws():
    bench = Bench(THICKNESS, gauges=[STREAMING])
    bench.rest("0.00")
    bench.rest("0.04", for_s=0.4)
    assert task(bench) is HandTask.HOLD
    bench.rest("0.04", for_s=0.5)
    assert task(bench) is HandTask.LIFT


@pytest.mark.parametrize("kind", [GaugeKind.CALIPER, GaugeKind.MICROMETER])
def test_a_gauge_with_a_button_is_pressed_and_shows_no_bar(kind):
    bench = Bench(LID, gauges=[gauge(kind)])
    cue = asked(bench.session, str(kind)).cue
    assert cue.endswith("press") and ("anvils" in cue) is (kind is GaugeKind.MICROMETER)
    bench.press("0.00")
    assert (task(bench), held_share(bench.lane)) == (HandTask.PRESS, None)
    bench.press("0.34")
    assert task(bench) is HandTask.PRESS


def test_what_keeps_a_gauge_from_being_read_comes_first():
    bench = Bench(DEPTH, gauges=[STREAMING])
    bench.rest("0.00")
    bench.rest("2.50", for_s=0.2)
    bench.send(reading("2.50", flags=[Flag.HELD]))
    assert task(bench) is HandTask.FROZEN
    bench.rest("2.60", for_s=0.2)
    bench.lane.seen(bench.now_s + 3.0)
    assert task(bench) is HandTask.SILENT
    bench.rest("2.60", for_s=0.2)
    assert task(bench) is HandTask.HOLD
    bench.send(UnitSwitch(before=LengthUnit.MM, now=LengthUnit.INCH, raw=b""))
    assert task(bench) is HandTask.SWITCH
    assert asked(bench.session, "caliper").cue == "switch it back to mm"
    bench.send(LinkChange(connected=False, text="gone"))
    assert task(bench) is HandTask.UNPLUGGED
    bench.send(LinkChange(connected=True, text="back"))
    bench.rest("2.60", for_s=0.2)
    assert task(bench) is HandTask.HOLD


def test_a_button_gauge_is_never_silent_and_a_stream_not_before_its_time():
    for sends in Sends:
        bench = Bench(DEPTH, gauges=[gauge(sends=sends)])
        bench.lane.seen(100.0)
        assert task(bench) is HandTask.CLOSE
        bench.lane.seen(103.0)
        late = HandTask.SILENT if sends is Sends.STREAM else HandTask.CLOSE
        assert task(bench) is late


@pytest.mark.parametrize("sends", Sends)
@pytest.mark.parametrize("kind", GaugeKind)
@pytest.mark.parametrize("reference", DepthReference)
def test_every_word_and_cue_is_short_at_every_step(sends, kind, reference):
    plan = make_plan(reference, with_=("recess", "lid"))
    session = CaptureSession(plan, [gauge(kind, sends)])
    lane, now_s, seen = session.lanes[str(kind)], 0.0, set()

    def look() -> None:
        ask = asked(session, str(kind))
        assert 0 < len(ask.word) <= LETTERS_IN_WORD
        assert 0 < len(ask.cue) <= LETTERS_IN_CUE
        assert 0 < len(ask.spoken) <= LETTERS_IN_CUE
        assert len(ask.next_place) <= LETTERS_IN_CUE
        seen.add(ask.place)

    def rest(value: str) -> None:
        nonlocal now_s
        # Closed jaws are a second closing at each further press.
        for _ in range(1 if sends is Sends.BUTTON and value == "0.000" else 20):
            look()
            now_s += 0.05 if sends is Sends.STREAM else 1.0
            event = GaugeEvent(gauge_id=str(kind), elapsed_s=now_s, body=reading(value))
            session.hear(event)
            look()

    rest("0.000")
    for step in lane.progress.steps:
        rest(f"{(step.low_mm + step.high_mm) / 2:.3f}")
        if not lane.progress.is_complete(step.measurand):
            session.skip()
    rest("0.000")
    session.tick(str(kind), math.inf)
    look()
    served = {step.measurand for step in plan.steps if kind in step.kinds}
    assert seen == served | {"zero", ""}


def test_every_measurand_has_a_word_of_its_own():
    plan = make_plan(with_=("recess",))
    session = CaptureSession(plan, [gauge()])
    words, lane = [], session.lanes["caliper"]
    session.hear(GaugeEvent(gauge_id="caliper", elapsed_s=1.0, body=reading("0.00")))
    while lane.progress.current:
        words.append(asked(session, "caliper").word)
        session.skip()
    assert len(set(words)) == len(words) == len(MEASURANDS)
    assert "MEASURE" not in words


def test_the_prompt_counts_and_its_identity_changes_with_the_reading():
    bench = Bench(DEPTH, gauges=[gauge(), MICROMETER])
    bench.press("0.00")
    first = asked(bench.session, "caliper")
    assert (first.n, first.m, first.spoken) == (1, 2, "depth, one of two")
    bench.press("2.31")
    second = asked(bench.session, "caliper")
    assert (second.n, second.spoken) == (2, "depth, two of two")
    assert first.ask_id != second.ask_id


@pytest.mark.parametrize("held_by", HELD_BY)
def test_each_known_length_has_its_word_and_its_cue(held_by: str) -> None:
    words = place_words(length_name(held_by, 11.5))
    assert words.word == {"length": "BLOCK"}.get(held_by, held_by.upper())
    assert words.below == "11.5 mm"
    assert len(f"{words.cue}, rock, hold") <= LETTERS_IN_CUE
    assert words.cue != "as said below"


def test_a_check_counts_its_zeros_and_names_its_block():
    session = CheckSession(make_check_plan([("length", 5.0)], 2), gauge(), 2)
    counts = []
    for n, value in enumerate(("0.00", "0.00", "5.00")):
        ask = asked(session, "caliper")
        counts.append((ask.word, ask.below, ask.n, ask.m))
        event = GaugeEvent(gauge_id="caliper", elapsed_s=n * 5.0, body=reading(value))
        session.hear(event)
    assert counts == [("CLOSE", "zero", 1, 2), ("CLOSE", "zero", 2, 2), ("BLOCK", "5 mm", 1, 2)]
