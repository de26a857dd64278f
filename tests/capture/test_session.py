"""A job with one or two gauges."""

from __future__ import annotations

from dataclasses import replace

import pytest
from capture_bench import (
    BORE,
    CALIPER,
    DEPTH,
    LID,
    MICROMETER,
    Bench,
    refusals,
    step,
    taken,
)

from gaugelink.capture.plan import Plan, assign, make_plan
from gaugelink.capture.progress import Stage
from gaugelink.capture.session import CaptureSession
from gaugelink.errors import InputError
from gaugelink.model import GaugeKind, UnitSwitch
from gaugelink.units import LengthUnit

BOTH = (CALIPER, MICROMETER)
OTHER = "micrometer"
SWITCH = UnitSwitch(before=LengthUnit.MM, now=LengthUnit.INCH, raw=b"")
SPRING = step("found_height", 2, kinds=(GaugeKind.MICROMETER,), low_mm=0.4, high_mm=8.0)


def two(*steps, acts=()) -> Bench:
    return Bench(*(steps or (DEPTH, LID)), gauges=BOTH, acts=acts)


def zeroed() -> Bench:
    bench = two()
    for gauge_id in ("", OTHER):
        bench.press("0.00", gauge_id=gauge_id)
    return bench


def test_lanes_are_independent():
    bench = two()
    bench.press("0.00")
    assert refusals(bench.press("0.41", gauge_id=OTHER))  # its own zero is due
    bench.press("0.000", gauge_id=OTHER)
    bench.press("2.31")
    bench.press("0.410", gauge_id=OTHER)
    assert bench.standing("depth") == ["2.31"]
    assert bench.standing("lid", OTHER) == ["0.410"]


def test_job_is_closed_when_both_gauges_are_done():
    bench = two()
    for value in ("0.00", "2.31", "2.31", "0.00"):
        bench.press(value)
    bench.wait(4.0)
    assert not bench.session.is_closed
    for value in ("0.000", "0.410", "0.411", "0.000"):
        bench.press(value, gauge_id=OTHER)
    assert not bench.session.is_closed
    bench.session.tick(OTHER, bench.now_s + 4.0)
    assert bench.session.is_closed


def test_undo_takes_the_newest_of_both():
    bench = zeroed()
    bench.press("2.31")
    bench.press("0.41", gauge_id=OTHER)
    bench.press("2.33")
    undone = [(act.gauge_id, act.displayed) for _ in range(3) for act in bench.undo()]
    assert undone == [("caliper", "2.33"), (OTHER, "0.41"), ("caliper", "2.31")]
    assert refusals(bench.undo()) == ["No reading to take back."]


def test_closing_one_gauge_twice_takes_back_its_own_reading():
    bench = zeroed()
    bench.press("0.41", gauge_id=OTHER)
    bench.press("2.31")
    bench.press("0.00", gauge_id=OTHER)
    (act,) = bench.press("0.00", gauge_id=OTHER)
    assert (act.gauge_id, act.displayed) == (OTHER, "0.41")
    (act,) = bench.undo()
    assert act.displayed == "2.31"


def test_undo_passes_over_a_gauge_that_is_done():
    bench = two()
    bench.press("0.00", gauge_id=OTHER)
    bench.press("0.41", gauge_id=OTHER)
    for value in ("0.00", "2.31", "2.31", "0.00"):
        bench.press(value)
    bench.wait(4.0)
    (act,) = bench.undo()
    assert (act.gauge_id, act.displayed) == (OTHER, "0.41")


def test_skip_leaves_out_what_the_gauge_in_hand_measures():
    bench = zeroed()
    bench.press("0.41", gauge_id=OTHER)
    assert [act.measurand for act in bench.skip()] == ["lid"]
    assert [act.measurand for act in bench.skip()] == ["depth"]  # the other one has nothing left
    assert refusals(bench.skip()) == ["Nothing to skip now."]


def test_skip_before_any_reading_is_that_of_the_first_gauge_that_measures():
    bench = two()
    bench.press("0.00", gauge_id=OTHER)
    assert [act.measurand for act in bench.skip()] == ["lid"]


def test_switched_unit_stops_one_gauge_only():
    bench = zeroed()
    bench.send(SWITCH)
    assert bench.lane.progress.halted
    assert taken(bench.press("0.41", gauge_id=OTHER)) == ["0.41"]


@pytest.mark.parametrize(
    ("gauges", "unserved"),
    [
        ([CALIPER], ("found_height",)),
        ([MICROMETER], ("bore", "depth")),
        ([CALIPER, MICROMETER], ()),
    ],
)
def test_measurands_that_no_gauge_serves_are_named(gauges, unserved):
    session = CaptureSession(Plan(steps=(BORE, DEPTH, LID, SPRING)), gauges)
    assert session.unserved == unserved


@pytest.mark.parametrize(
    ("gauges", "message"),
    [
        ([], "one caliper, one micrometer, or one of each"),
        ([CALIPER, replace(CALIPER, gauge_id="second")], "one caliper, one micrometer"),
        ([CALIPER, replace(MICROMETER, gauge_id="caliper")], "lead to one gauge, caliper"),
    ],
)
def test_gauges_that_make_no_job_are_refused(gauges, message):
    with pytest.raises(InputError, match=message):
        CaptureSession(make_plan(), gauges)


@pytest.mark.parametrize("steps", [(), (SPRING,)])
def test_gauge_with_nothing_to_measure_is_refused(steps):
    with pytest.raises(InputError, match="Nothing to measure"):
        CaptureSession(Plan(steps=steps), [CALIPER])


def test_gauge_without_a_step_is_not_waited_for():
    bench = two(DEPTH)
    assert bench.session.lanes[OTHER].progress.stage is Stage.DONE
    for value in ("0.00", "2.31", "2.31", "0.00"):
        bench.press(value)
    bench.wait(4.0)
    assert bench.session.is_closed


def test_each_measurand_goes_to_its_best_gauge():
    assignment = assign(Plan(steps=(DEPTH, LID)), BOTH)
    assert assignment.steps_of("caliper") == (DEPTH,)
    assert assignment.steps_of(OTHER) == (LID,)
