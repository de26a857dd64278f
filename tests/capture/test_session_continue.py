"""A job that is continued later, perhaps with other gauges."""

from __future__ import annotations

from capture_bench import (
    CALIPER,
    DEPTH,
    LID,
    MICROMETER,
    STREAMING,
    THICKNESS,
    Bench,
    kinds,
    refusals,
    state,
    step,
    taken,
)

from gaugelink.capture.acts import ZERO
from gaugelink.capture.progress import Stage
from gaugelink.model import GaugeKind, UnitSwitch
from gaugelink.units import LengthUnit

BOTH = (CALIPER, MICROMETER)
OTHER = "micrometer"
SWITCH = UnitSwitch(before=LengthUnit.MM, now=LengthUnit.INCH, raw=b"")
SPRING = step("found_height", 2, kinds=(GaugeKind.MICROMETER,), low_mm=0.4, high_mm=8.0)


def two(*steps, acts=()) -> Bench:
    return Bench(*(steps or (DEPTH, LID)), gauges=BOTH, acts=acts)


def test_continued_job_wants_a_fresh_zero_and_then_goes_on():
    begun = Bench(DEPTH)
    for value in ("0.00", "2.31"):
        begun.press(value)
    bench = Bench(DEPTH, acts=begun.acts)
    assert bench.lane.progress.stage is Stage.OPENING
    assert refusals(bench.press("2.33"))
    bench.press("0.01")
    assert kinds(bench.press("2.33")) == ["Taken", "Completed"]
    assert bench.standing("depth") == ["2.31", "2.33"]
    assert bench.standing(ZERO) == ["0.00", "0.01"]


def test_continued_job_can_undo_what_was_taken_before():
    begun = Bench(DEPTH)
    for value in ("0.00", "2.31"):
        begun.press(value)
    bench = Bench(DEPTH, acts=begun.acts)
    (act,) = bench.undo()
    assert act.displayed == "2.31"


def test_halt_does_not_outlast_the_sitting():
    begun = Bench(DEPTH)
    begun.press("0.00")
    begun.send(SWITCH)
    assert begun.lane.progress.halted
    bench = Bench(DEPTH, acts=begun.acts)
    assert bench.lane.progress.halted == ""


def test_closed_job_stays_closed():
    begun = Bench(DEPTH)
    for value in ("0.00", "2.31", "2.31", "0.00"):
        begun.press(value)
    begun.wait(4.0)
    bench = Bench(DEPTH, acts=begun.acts)
    assert bench.session.is_closed
    assert state(bench.lane.progress) == state(begun.lane.progress)


def test_measurand_that_was_begun_stays_with_its_gauge():
    alone = Bench(LID, DEPTH)
    for value in ("0.00", "0.41"):
        alone.press(value)
    bench = two(LID, DEPTH, acts=alone.acts)  # the micrometer would be better
    assert bench.lane.progress.current is LID
    assert bench.session.lanes[OTHER].progress.steps == ()


def test_measurand_whose_readings_were_taken_back_goes_to_the_best_gauge():
    alone = Bench(LID, DEPTH)
    for value in ("0.00", "0.41"):
        alone.press(value)
    alone.undo()
    bench = two(LID, DEPTH, acts=alone.acts)
    assert bench.session.lanes[OTHER].progress.current is LID
    assert bench.lane.progress.current is DEPTH


def test_acts_of_an_absent_gauge_are_passed_over():
    begun = two(DEPTH, SPRING)
    for gauge_id in ("", OTHER):
        begun.press("0.00", gauge_id=gauge_id)
    begun.press("1.50", gauge_id=OTHER)
    begun.press("2.31")
    bench = Bench(DEPTH, SPRING, acts=begun.acts)
    assert bench.session.unserved == ("found_height",)
    assert bench.standing("depth") == ["2.31"]


def test_gauge_that_was_done_goes_on_when_it_is_given_more_to_measure():
    begun = two(DEPTH, LID)
    for value in ("0.00", "2.31", "2.31", "0.00"):
        begun.press(value)
    begun.wait(4.0)
    bench = Bench(DEPTH, LID, acts=begun.acts)  # the micrometer is not there any more
    assert not bench.session.is_closed
    for value in ("0.00", "0.41", "0.41"):
        bench.press(value)
    assert Bench(DEPTH, LID, acts=bench.acts).lane.progress.stage is Stage.OPENING
    bench.press("0.00")
    bench.wait(4.0)
    assert bench.session.is_closed


def test_streaming_gauge_can_continue_where_a_button_stopped():
    begun = Bench(THICKNESS)
    for value in ("0.00", "0.12"):
        begun.press(value)
    bench = Bench(THICKNESS, gauges=[STREAMING], acts=begun.acts)
    bench.rest("0.00")
    assert taken(bench.rest("0.13")) == ["0.13"]
