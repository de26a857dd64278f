"""A gauge that streams, through its part of the job."""

from __future__ import annotations

import math

import pytest
from capture_bench import (
    ARBOR,
    BORE,
    DEPTH,
    LID,
    STREAMING,
    THICKNESS,
    Bench,
    kinds,
    reading,
    refusals,
    taken,
)

from gaugelink.capture.acts import ZERO
from gaugelink.capture.progress import Stage
from gaugelink.model import Flag, LinkChange

LOST = LinkChange(connected=False, text="unplugged")
BACK = LinkChange(connected=True, text="back")


def stream_of(*steps) -> Bench:
    """Return a bench whose opening zero is taken."""
    bench = Bench(*steps, gauges=[STREAMING])
    bench.rest("0.00")
    return bench


def rocking(bore_mm: float, hz: float, for_s: float = 2.4) -> list[str]:
    """Return what inside jaws show that are rocked 1 mm to both sides in a bore."""
    offs_mm = [math.cos(2 * math.pi * n / (1.2 * hz)) for n in range(round(for_s * hz))]
    return [f"{2 * math.sqrt((bore_mm / 2) ** 2 - off_mm**2):.2f}" for off_mm in offs_mm]


@pytest.mark.parametrize("hz", [5.0, 10.0, 20.0])
def test_whole_job_from_zero_to_zero(hz):
    bench = Bench(BORE, DEPTH, ARBOR, gauges=[STREAMING])
    bench.rest("0.00", 1.2, hz)
    for bore_mm in (11.02, 11.04):
        bench.stream([*["9.00"] * 3, *rocking(bore_mm, hz)], hz)
        bench.rest(f"{bore_mm:.2f}", 2.0, hz)
    for depth in ("2.31", "2.32"):
        bench.rest("4.00", 0.6, hz)
        bench.rest(depth, 1.2, hz)
    for arbor in ("3.68", "3.67"):
        bench.rest("9.00", 0.6, hz)
        bench.rest(arbor, 2.4, hz)
    bench.rest("5.00", 0.6, hz)
    bench.rest("0.01", 4.8, hz)
    assert taken(bench.acts) == [
        *("0.00", "11.02", "11.04", "2.31", "2.32", "3.68", "3.67", "0.01")
    ]
    assert kinds(bench.acts).count("Completed") == 3
    assert refusals(bench.acts) == []
    assert bench.session.is_closed


def test_jaws_that_stay_closed_after_the_zero_do_nothing():
    bench = stream_of(DEPTH)
    assert bench.rest("0.00", 10.0) == []


def test_rest_far_from_zero_is_refused_once():
    bench = Bench(DEPTH, gauges=[STREAMING])
    assert len(refusals(bench.rest("12.00", 10.0))) == 1
    assert taken(bench.rest("0.00")) == ["0.00"]


def test_implausible_rest_is_refused_once():
    bench = stream_of(DEPTH)
    assert len(refusals(bench.rest("25.00", 10.0))) == 1
    assert taken(bench.rest("2.31")) == ["2.31"]


def test_closing_zero_far_off_is_refused_once():
    bench = stream_of(DEPTH)
    for value in ("2.31", "8.00", "2.32", "8.00"):
        bench.rest(value)
    assert bench.lane.progress.stage is Stage.CLOSING
    (said,) = refusals(bench.rest("0.12", 10.0))
    assert said.startswith("0.12 mm is too far from the zero before.")
    assert refusals(bench.rest("5.00", 10.0)) == []  # opened and laid down
    assert not bench.lane.is_closing


def test_thickness_that_goes_on_being_measured_is_no_closing_zero():
    bench = Bench(THICKNESS, gauges=[STREAMING])
    for value in ("0.000", "0.200", "0.080", "0.200", "0.081", "0.200", "0.079"):
        bench.rest(value, 0.8 if value != "0.200" else 0.3)
    assert bench.lane.progress.stage is Stage.CLOSING
    assert not bench.lane.is_closing


def test_rest_that_ends_a_measurand_does_not_begin_the_next():
    bench = stream_of(DEPTH, LID)
    for value in ("1.20", "5.00", "1.20"):
        bench.rest(value)
    acts = bench.rest("1.20", 10.0)
    assert acts == []
    assert bench.lane.progress.current is LID


def test_closing_the_jaws_makes_the_same_size_a_new_reading():
    bench = stream_of(DEPTH, LID)
    for value in ("1.20", "5.00", "1.20"):
        bench.rest(value)
    bench.rest("0.00", 0.5, hz=3.0)
    assert taken(bench.rest("1.20", 2.0, hz=3.0)) == ["1.20"]


def test_thin_part_that_flickers_towards_closed_jaws_is_taken_once():
    bench = stream_of(THICKNESS)
    bench.rest("0.20", 0.3)
    assert taken(bench.rest("0.03")) == ["0.03"]
    assert bench.stream([*["0.02"], *["0.03"] * 40]) == []


def test_lost_link_is_no_movement():
    bench = stream_of(DEPTH)
    bench.rest("2.31")
    assert bench.send(LOST) == []
    assert bench.send(BACK, wait_s=5.0) == []
    assert bench.rest("2.31", 10.0) == []
    assert bench.standing("depth") == ["2.31"]


def test_lost_link_breaks_a_rest():
    bench = stream_of(DEPTH)
    bench.rest("4.00", 0.1)
    bench.rest("2.31", 0.5)
    bench.send(LOST, wait_s=0.1)
    bench.send(BACK, wait_s=0.1)
    assert bench.rest("2.31", 0.5) == []
    assert taken(bench.rest("2.31", 0.5)) == ["2.31"]


def test_job_goes_on_after_a_lost_link():
    bench = stream_of(DEPTH)
    bench.rest("2.31")
    bench.send(LOST)
    bench.send(BACK, wait_s=3600.0)  # the clock of the gauge went on meanwhile
    bench.rest("5.00", 0.3)
    assert taken(bench.rest("2.33")) == ["2.33"]


def test_closing_zero_is_given_though_the_link_is_lost():
    bench = stream_of(DEPTH)
    for value in ("2.31", "8.00", "2.32", "8.00"):
        bench.rest(value)
    bench.rest("0.00")
    assert bench.send(LOST, wait_s=0.1) == []
    assert kinds(bench.wait(4.0)) == ["Taken", "GaugeDone"]


def test_held_display_is_said_once_and_is_no_rest():
    bench = stream_of(DEPTH)
    bench.rest("4.00", 0.1)
    held = [act for _ in range(100) for act in bench.send(reading("2.31", flags=[Flag.HELD]), 0.05)]
    assert refusals(held) == ["The display is on hold."]
    assert taken(bench.rest("2.31")) == ["2.31"]
    again = bench.send(reading("2.31", flags=[Flag.HELD]), 0.05)
    assert refusals(again) == ["The display is on hold."]


def test_key_undo_does_not_take_the_same_rest_again():
    bench = stream_of(DEPTH)
    bench.rest("2.31")
    bench.undo()
    assert bench.rest("2.31", 5.0) == []
    bench.rest("4.00", 0.3)
    assert taken(bench.rest("2.31")) == ["2.31"]


def test_key_undo_after_completion_does_not_take_the_same_rest_again():
    bench = stream_of(DEPTH, LID)
    for value in ("2.31", "5.00", "2.33"):
        bench.rest(value)
    bench.undo()
    assert bench.rest("2.33", 5.0) == []
    assert bench.standing("depth") == ["2.31"]


def test_wrong_frames_do_not_disturb_a_job():
    bench = Bench(DEPTH, gauges=[STREAMING])
    for value in ("0.00", "2.31", "12.00", "2.33", "12.00", "0.00"):
        rest = [value] * 20
        rest[5], rest[17] = "99.99", "0.00"
        bench.stream(rest)
    bench.rest("0.00", 4.0)
    assert bench.standing("depth") == ["2.31", "2.33"]
    assert bench.standing(ZERO) == ["0.00", "0.00"]
    assert bench.session.is_closed
