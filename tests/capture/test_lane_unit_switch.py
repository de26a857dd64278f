"""A switch of unit in mid-job stops the taking of readings and says so."""

from __future__ import annotations

import pytest
from capture_bench import CALIPER, DEPTH, STREAMING, Bench, kinds, reading, refusals, taken

from gaugelink.capture.acts import Halted
from gaugelink.model import UnitSwitch
from gaugelink.units import LengthUnit

INCH, MM = LengthUnit.INCH, LengthUnit.MM
SWITCH = UnitSwitch(before=MM, now=INCH, raw=b"0.0910 in")
SWITCHED = "The caliper was switched from mm to in. No reading is taken until it shows mm again."
BEGUN_IN_MM = (
    "The caliper shows in, but the job was begun in mm. "
    "Stop, switch it to mm, and continue the job."
)


def test_switch_stops_a_button_gauge_and_each_press_is_answered():
    bench = Bench(DEPTH)
    bench.press("0.00")
    assert bench.send(SWITCH) == [Halted(gauge_id=CALIPER.gauge_id, reason=SWITCHED)]
    assert refusals(bench.send(SWITCH)) == [SWITCHED]
    assert bench.standing("depth") == []


def test_switch_stops_a_stream_and_is_said_once():
    bench = Bench(DEPTH, gauges=[STREAMING])
    bench.rest("0.00")
    acts = [act for _ in range(100) for act in bench.send(SWITCH, 0.05)]
    assert kinds(acts) == ["Halted"]


@pytest.mark.parametrize("gauge", [CALIPER, STREAMING], ids=["button", "stream"])
def test_readings_are_taken_again_once_the_unit_is_back(gauge):
    bench = Bench(DEPTH, gauges=[gauge])
    bench.rest("0.00") if gauge is STREAMING else bench.press("0.00")
    bench.send(SWITCH)
    acts = bench.rest("2.31") if gauge is STREAMING else bench.press("2.31")
    assert kinds(acts) == ["Resumed", "Taken"]
    assert not bench.lane.progress.halted


def test_switch_to_and_fro_is_no_movement():
    bench = Bench(DEPTH, gauges=[STREAMING])
    bench.rest("0.00")
    bench.rest("2.31")
    bench.send(SWITCH)
    assert kinds(bench.rest("2.31", 5.0)) == ["Resumed"]


def test_switch_before_the_zero_stops_too():
    bench = Bench(DEPTH)
    assert kinds(bench.send(SWITCH)) == ["Halted"]


@pytest.mark.parametrize("gauge", [CALIPER, STREAMING], ids=["button", "stream"])
def test_reading_in_another_unit_than_the_job_is_not_taken(gauge):
    bench = Bench(DEPTH, gauges=[gauge])
    bench.rest("0.00") if gauge is STREAMING else bench.press("0.00")
    acts = bench.send(reading("0.0910", INCH))
    assert acts == [Halted(gauge_id=CALIPER.gauge_id, reason=BEGUN_IN_MM)]
    assert bench.standing("depth") == []


def test_job_that_is_continued_keeps_its_unit():
    begun = Bench(DEPTH)
    for value in ("0.00", "2.31"):
        begun.press(value)
    bench = Bench(DEPTH, acts=begun.acts)
    assert kinds(bench.send(reading("0.0000", INCH))) == ["Halted"]
    assert refusals(bench.send(UnitSwitch(before=INCH, now=MM, raw=b""))) == [BEGUN_IN_MM]


def test_job_may_be_measured_in_inches():
    bench = Bench(DEPTH)
    acts = [
        act for value in ("0.0000", "0.0910", "0.0915") for act in bench.send(reading(value, INCH))
    ]
    assert taken(acts) == ["0.0000", "0.0910", "0.0915"]


def test_undo_and_skip_work_while_readings_are_stopped():
    bench = Bench(DEPTH)
    for value in ("0.00", "2.31"):
        bench.press(value)
    bench.send(SWITCH)
    assert kinds(bench.undo()) == ["Undone"]
    assert kinds(bench.skip()) == ["Skipped"]


def test_gauge_that_is_done_is_not_stopped():
    bench = Bench(DEPTH)
    for value in ("0.00", "2.31", "2.31", "0.00"):
        bench.press(value)
    bench.wait(4.0)
    assert bench.send(SWITCH) == []
