"""Taking the last reading back: with a key, or by closing the jaws twice."""

from __future__ import annotations

import pytest
from capture_bench import DEPTH, LID, STREAMING, THICKNESS, Bench, kinds, refusals, taken

from gaugelink.capture.acts import Undone
from gaugelink.capture.progress import Stage

NOTHING = "No reading to take back."


def pressed(*values: str) -> Bench:
    bench = Bench(DEPTH, LID)
    for value in values:
        bench.press(value)
    return bench


def test_key_takes_back_the_last_reading():
    bench = pressed("0.00", "2.31", "2.33")
    (act,) = bench.undo()
    assert act == Undone(
        gauge_id="caliper", elapsed_s=bench.now_s, measurand="depth", displayed="2.33"
    )
    assert bench.standing("depth") == ["2.31"]


def test_undo_goes_back_over_measurands_and_stops_at_the_zero():
    bench = pressed("0.00", "2.31", "2.33", "0.41")
    displayed = [act.displayed for _ in range(3) for act in bench.undo()]
    assert displayed == ["0.41", "2.33", "2.31"]
    assert refusals(bench.undo()) == [NOTHING]
    assert bench.lane.progress.stage is Stage.MEASURING


def test_undo_of_a_skip():
    bench = pressed("0.00", "2.31")
    bench.skip()
    (act,) = bench.undo()
    assert (act.measurand, act.displayed) == ("depth", "")
    assert bench.lane.progress.current is DEPTH
    assert bench.standing("depth") == ["2.31"]


def test_first_press_at_zero_says_what_a_second_would_do():
    bench = pressed("0.00", "2.31")
    assert refusals(bench.press("0.00")) == [
        "Jaws closed: no reading. Once more within 3 s takes back the last one."
    ]


def test_first_press_at_zero_promises_nothing_where_nothing_stands():
    assert refusals(pressed("0.00").press("0.00")) == ["Jaws closed: no reading."]


@pytest.mark.parametrize(
    ("values", "measurand"),
    [
        pytest.param(["0.00", "2.31"], "depth", id="in a measurand"),
        pytest.param(["0.00", "2.31", "2.33"], "depth", id="right after completing one"),
        pytest.param(["0.00", "2.31", "2.33", "0.41", "0.41"], "lid", id="at the closing stage"),
    ],
)
@pytest.mark.parametrize("closed", ["0.00", "0.04", "-0.05"])
def test_two_presses_at_zero_take_back_the_last_reading(values, measurand, closed):
    bench = pressed(*values)
    bench.press(closed)
    (act,) = bench.press(closed, wait_s=2.9)
    assert isinstance(act, Undone)
    assert act.measurand == measurand
    assert bench.lane.progress.current is (DEPTH if measurand == "depth" else LID)
    assert bench.wait(10.0) == []  # no closing zero comes of it


def test_two_presses_at_zero_without_a_reading():
    bench = pressed("0.00")
    bench.press("0.00")
    assert refusals(bench.press("0.00")) == [NOTHING]


def test_presses_too_far_apart_are_two_single_ones():
    bench = pressed("0.00", "2.31", "0.00")
    assert kinds(bench.press("0.00", wait_s=3.1)) == ["NotTaken"]
    assert bench.standing("depth") == ["2.31"]


def test_double_send_at_zero_is_one_closing():
    bench = pressed("0.00", "2.31", "0.00")
    assert kinds(bench.press("0.00", wait_s=0.1)) == ["Repeated"]
    assert bench.standing("depth") == ["2.31"]


def test_reading_between_two_closings_is_not_taken_back():
    bench = pressed("0.00", "2.31", "0.00", "2.33")
    assert kinds(bench.press("0.00")) != ["Undone"]
    assert bench.standing("depth") == ["2.31", "2.33"]


def test_thin_spring_is_not_mistaken_for_closed_jaws():
    bench = Bench(THICKNESS)
    for value in ("0.00", "0.05", "0.05"):  # by a caliper, five steps from zero
        bench.press(value)
    assert bench.standing("found_thickness") == ["0.05", "0.05"]


def test_key_at_the_closing_stage_cancels_the_closing_zero():
    bench = pressed("0.00", "2.31", "2.33", "0.41", "0.41", "0.00")
    assert bench.lane.is_closing
    assert kinds(bench.undo()) == ["Undone"]
    assert bench.wait(10.0) == []
    assert bench.lane.progress.stage is Stage.MEASURING


def test_nothing_is_taken_back_from_a_gauge_that_is_done():
    bench = pressed("0.00", "2.31", "2.33", "0.41", "0.41", "0.00")
    bench.wait(4.0)
    assert refusals(bench.undo()) == [NOTHING]
    assert bench.session.is_closed


def streamed(*rests: str) -> Bench:
    bench = Bench(DEPTH, LID, gauges=[STREAMING])
    for value in rests:
        bench.rest("8.00", 0.2)
        bench.rest(value)
    return bench


def close_twice(bench: Bench) -> list[str]:
    acts = [
        *bench.rest("3.00", 0.2),
        *bench.rest("0.00", 0.3),
        *bench.rest("3.00", 0.2),
        *bench.rest("0.00", 0.3),
    ]
    return kinds(acts)


@pytest.mark.parametrize(
    ("rests", "measurand"),
    [
        pytest.param(["0.00", "2.31"], "depth", id="in a measurand"),
        pytest.param(["0.00", "2.31", "2.33"], "depth", id="right after completing one"),
        pytest.param(["0.00", "2.31", "2.33", "0.41", "0.41"], "lid", id="at the closing stage"),
    ],
)
def test_closing_a_streaming_gauge_twice_takes_back_the_last_reading(rests, measurand):
    bench = streamed(*rests)
    assert taken(bench.acts) == rests
    assert close_twice(bench) == ["Undone"]
    assert bench.acts[-1].measurand == measurand
    assert bench.rest("0.00", 5.0) == []  # jaws left closed: no zero, no second undo


def test_reading_taken_back_can_be_taken_again_at_the_same_size():
    bench = streamed("0.00", "2.31")
    close_twice(bench)
    assert taken(bench.rest("2.31", hz=3.0, for_s=2.0)) == ["2.31"]  # no frame on the way


CLOSE = ["3.00", "3.00", "0.00", "0.00"]


def test_closing_a_streaming_gauge_twice_at_three_frames_a_second():
    bench = streamed("0.00", "2.31")
    acts = bench.stream([*CLOSE, *CLOSE], hz=3.0)
    assert kinds(acts) == ["Undone"]


def test_jaws_closed_after_each_reading_take_nothing_back():
    bench = streamed("0.00")
    for value in ("2.31", "2.33", "0.41"):
        bench.rest("3.00", 0.2)
        bench.rest(value, 0.9)
        bench.rest("3.00", 0.2)
        bench.rest("0.00", 0.2)
    assert taken(bench.acts) == ["0.00", "2.31", "2.33", "0.41"]
    assert "Undone" not in kinds(bench.acts)


def test_one_frame_at_zero_is_no_closing():
    bench = streamed("0.00", "2.31")
    acts = bench.stream(["2.31", "0.00", "2.31", "2.31", "2.31", "0.00", "2.31", "2.31"])
    assert acts == []
