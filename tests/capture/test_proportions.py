"""Readings beside one another: the pivot for the hub, the arbor for the bore, the wrong faces."""

from __future__ import annotations

import pytest
from capture_bench import (
    ARBOR,
    BORE,
    CALIPER,
    DEPTH,
    LID,
    MICROMETER,
    STREAMING,
    Bench,
    kinds,
    reading,
    refusals,
    step,
    taken,
)

from gaugelink.capture.acts import Taken
from gaugelink.capture.proportions import inches_read_as_mm, jump, out_of_proportion, says_the_same
from gaugelink.sizing.stops import ARBOR_PER_BORE, DEPTH_PER_BORE
from gaugelink.units import LengthUnit

HEIGHT = step("found_height", 2, low_mm=0.4, high_mm=8.0)


def known(**sizes_mm: float):
    return sizes_mm.get


@pytest.mark.parametrize(
    ("measurand", "value", "others", "odd"),
    [
        ("arbor", "11.38", {"bore": 11.52}, True),
        ("arbor", "6.34", {"bore": 11.52}, True),
        ("arbor", "6.33", {"bore": 11.52}, False),
        ("arbor", "2.07", {"bore": 11.52}, True),
        ("arbor", "2.08", {"bore": 11.52}, False),
        ("arbor", "11.38", {}, False),
        ("bore", "3.68", {"arbor": 3.68}, True),
        ("bore", "11.52", {"arbor": 3.68, "depth": 1.9}, False),
        ("bore", "4.70", {"depth": 1.9}, True),
        ("depth", "4.61", {"bore": 11.52}, True),
        ("depth", "4.60", {"bore": 11.52}, False),
        ("lid", "1.91", {"depth": 1.9}, True),
        ("lid", "0.40", {"depth": 1.9}, False),
        ("found_height", "1.91", {"depth": 1.9}, True),
        ("found_height", "1.45", {"depth": 1.9}, False),
        ("found_thickness", "0.13", {"bore": 0.1, "depth": 0.1}, False),
    ],
)
def test_limits_between_two_sizes(measurand, value, others, odd):
    assert bool(out_of_proportion(measurand, reading(value), known(**others))) is odd


@pytest.mark.parametrize(
    ("part", "whole", "shares"),
    [("arbor", "bore", ARBOR_PER_BORE), ("depth", "bore", (0.0, DEPTH_PER_BORE[1]))],
)
def test_what_is_taken_at_once_is_not_stopped_at_by_the_sizing(part, whole, shares):
    low, high = shares
    for share in (low + 0.001, high - 0.001):
        assert not out_of_proportion(part, reading(f"{10 * share:.3f}"), known(**{whole: 10.0}))
    assert out_of_proportion(part, reading(f"{10 * high + 0.01:.3f}"), known(**{whole: 10.0}))


def test_it_is_said_in_the_unit_of_the_display():
    said = out_of_proportion("arbor", reading("0.4480", LengthUnit.INCH), known(bore=11.52))
    assert said == (
        "0.4480 in is not a likely arbor: the arbor would be 0.99 of the bore, usual is 0.18 "
        "to 0.55"
    )


@pytest.mark.parametrize(
    ("value", "others", "same"),
    [("11.40", ["11.38"], True), ("3.68", ["11.38"], False), ("3.68", [], False)],
)
def test_the_same_again(value, others, same):
    assert says_the_same(reading(value), [reading(each) for each in others]) is same


def measured(*values: str) -> Bench:
    bench = Bench(BORE, ARBOR)
    for value in ("0.00", "11.52", "11.52", *values):
        bench.press(value)
    return bench


def test_an_odd_reading_is_asked_for_again_and_the_right_one_stands():
    bench = measured()
    assert refusals(bench.press("11.38")) == [
        "11.38 mm is not a likely arbor: the arbor would be 0.99 of the bore, usual is 0.18 to "
        "0.55. Read it again; the same once more is taken."
    ]
    assert kinds(bench.press("3.68")) == ["Taken"]
    assert bench.standing("arbor") == ["3.68"]


def test_an_odd_barrel_is_measured_with_a_mark():
    bench = measured("7.00")
    acts = [*bench.press("7.01"), *bench.press("7.00")]
    assert kinds(acts) == ["Taken", "Taken", "Completed"]
    assert bench.standing("arbor") == ["7.01", "7.00"]  # nobody is asked a third time
    for act in acts[:2]:
        assert isinstance(act, Taken)
        assert "0.61 of the bore" in act.note
        assert act.note.endswith("it came again, so it is taken.")


def test_another_odd_reading_does_not_confirm_the_first():
    bench = measured("11.38")
    assert refusals(bench.press("1.20"))
    assert refusals(bench.press("11.38"))
    assert taken(bench.press("11.37")) == ["11.37"]


def test_two_slips_among_good_readings_are_taken_the_second_time():
    bench = Bench(BORE, step("arbor", 4, low_mm=0.8, high_mm=15.0))
    for value in ("0.00", "11.52", "11.52", "3.68", "3.68"):
        bench.press(value)
    assert refusals(bench.press("11.38"))
    assert taken(bench.press("11.38")) == ["11.38"]


def test_a_streaming_gauge_has_to_come_again():
    bench = Bench(step("bore", 1, low_mm=3.0, high_mm=30.0), DEPTH, gauges=[STREAMING])
    bench.rest("0.00")
    bench.rest("11.52")
    assert len(refusals(bench.rest("5.00", for_s=3.0))) == 1  # held still it comes once
    bench.rest("8.00", for_s=0.1)
    assert taken(bench.rest("5.00")) == ["5.00"]


def test_two_gauges_know_of_one_another_and_of_one_that_is_gone():
    bench = Bench(DEPTH, LID, gauges=(CALIPER, MICROMETER))
    for value in ("0.00", "0.70", "0.70"):
        bench.press(value)
    bench.press("0.000", gauge_id="micrometer")
    assert refusals(bench.press("0.710", gauge_id="micrometer"))
    alone = Bench(LID, gauges=[MICROMETER], acts=bench.acts)
    alone.press("0.000")
    assert refusals(alone.press("0.710"))
    assert taken(alone.press("0.400")) == ["0.400"]


def test_a_spring_higher_than_the_barrel_is_asked_for_again():
    bench = Bench(DEPTH, HEIGHT)
    for value in ("0.00", "1.90", "1.90"):
        bench.press(value)
    (said,) = refusals(bench.press("2.30"))
    assert "the found height would be 1.21 of the depth, usual is at most 1" in said


@pytest.mark.parametrize(
    ("standing", "value", "said"),
    [
        ([], "1.47", ""),  # nothing to compare with
        (["11.47"], "11.53", ""),
        (["11.47"], "11.64", ""),  # 1.5 % of a bore
        (["11.47"], "11.67", "11.67 mm is +0.200 mm from what came before"),
        (["11.47"], "1.47", "1.47 mm is -10.000 mm from what came before"),
        (["11.47", "11.49"], "17.47", "17.47 mm is +5.990 mm from what came before"),
        (["11.47", "11.49", "17.47"], "17.48", ""),  # it came twice before
        (["11.47"], "11.447", "11.447 mm has more decimals than before"),
    ],
)
def test_a_jump_beyond_the_hand_is_told(standing, value, said):
    others = [reading(each) for each in standing]
    assert jump([reading("0.00"), *others], others, reading(value)) == said


@pytest.mark.parametrize(
    ("others", "value", "asks"),
    [  # 11.00 / 25.4 = 0.4331, and 866 counts of 0.0005 inch: by hand
        (["11.00"], "8.66", True),
        (["11.00", "11.02"], "0.433", True),
        (["11.00"], "4.33", True),
        (["11.00"], "43.31", True),
        (["11.00"], "8.20", False),
        (["11.00"], "10.98", False),
        (["0.14"], "0.11", False),  # near each other on a caliper: the hand
        ([], "8.66", False),
    ],
)
def test_inches_read_as_mm_are_asked_about(others, value, asks):
    said = inches_read_as_mm([reading(each) for each in others], reading(value))
    assert ("was the unit key pressed?" in said) is asks


def test_a_unit_key_pressed_in_mid_job_is_not_taken_however_often_it_comes():
    bench = Bench(BORE)
    for value in ("0.00", "11.00", "8.66", "8.67", "8.66"):
        bench.press(value)
    assert bench.standing("bore") == ["11.00"]
    bench.press("11.01")
    assert bench.standing("bore") == ["11.00", "11.01"]


def test_a_unit_key_pressed_back_is_asked_about_and_believed_when_it_comes_again():
    back = jump([reading("8.66")], [reading("8.66")], reading("11.00"))
    assert back == "11.00 mm is +2.340 mm from what came before (was the unit key pressed?)"
    bench = Bench(BORE)
    for value in ("0.00", "8.66", "11.00", "11.01"):
        bench.press(value)
    assert bench.standing("bore") == ["11.01"]


@pytest.mark.parametrize(
    ("measurand", "value", "others", "asks"),
    [
        ("arbor", "1.50", {"bore": 11.00}, True),  # 3.80 mm are 0.150 inch
        ("bore", "4.33", {"depth": 1.9}, True),
        ("arbor", "11.38", {"bore": 11.52}, False),
    ],
)
def test_a_first_size_out_of_proportion_asks_for_the_unit_key(measurand, value, others, asks):
    said = out_of_proportion(measurand, reading(value), known(**others))
    assert said
    assert ("was the unit key pressed?" in said) is asks


def test_a_jump_that_does_not_come_again_leaves_the_rest_as_it_was():
    bench = Bench(BORE)
    for value in ("0.00", "11.52", "11.02", "14.52"):
        bench.press(value)
    assert bench.standing("bore") == ["11.52"]
    bench.press("11.53")
    assert bench.standing("bore") == ["11.52", "11.53"]


def test_two_that_agree_take_back_the_one_before_them():
    bench = Bench(BORE)
    for value in ("0.00", "17.52", "11.52"):
        bench.press(value)
    assert bench.standing("bore") == ["17.52"]
    assert kinds(bench.press("11.53"))[:2] == ["Undone", "Taken"]
    assert bench.standing("bore") == ["11.53"]


def test_undo_of_a_doubted_reading_takes_nothing_else_back():
    bench = Bench(BORE)
    for value in ("0.00", "11.52", "17.52"):
        bench.press(value)
    assert refusals(bench.undo()) == ["It was not taken; what was taken stays."]
    assert bench.standing("bore") == ["11.52"]
    bench.undo()
    assert bench.standing("bore") == []
