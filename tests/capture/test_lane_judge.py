"""What is said of one reading; all limits are common practice."""

from __future__ import annotations

import pytest
from capture_bench import BORE, DEPTH, THICKNESS, gauge, reading, step

from gaugelink.capture import lane
from gaugelink.model import Flag, GaugeEvent
from gaugelink.units import LengthUnit

RECESS = step("recess", low_mm=0.02, high_mm=1.0)


@pytest.mark.parametrize(
    ("value", "possible"),
    [
        ("0.00", True),
        ("-0.10", True),
        ("0.10", True),
        ("0.11", False),
        ("-0.11", False),
        ("-1.00", False),
        ("0.020", True),
        ("0.021", False),  # a micrometer this far off is not set
        ("0.080", False),  # a spring between the anvils
    ],
)
def test_zero_before(value, possible):
    assert lane.is_opening_zero(reading(value)) is possible


@pytest.mark.parametrize(
    ("offset_mm", "taken", "possible"),
    [
        (0.0, [], True),
        (0.1, [], True),
        (0.11, [], False),
        (-0.1, ["11.02", "2.31"], True),
        (-0.11, ["11.02", "2.31"], False),
        (-1.0, ["11.02"], False),
        (-0.06, ["0.100"], False),
        (0.05, ["0.100"], True),
        (0.06, ["0.100"], False),
        (0.085, ["0.400", "0.080"], False),  # a sixth place on a thin spring
    ],
)
def test_zero_after(offset_mm, taken, possible):
    assert lane.is_closing_zero(offset_mm, [reading(value) for value in taken]) is possible


@pytest.mark.parametrize(
    ("offset_mm", "taken", "said"),
    [
        (0.3, ["11.02"], True),
        (-1.0, ["11.02"], True),
        (1.01, ["11.02"], False),  # opened and laid down
        (-1.01, ["11.02"], False),
        (0.08, ["0.400", "0.081"], False),  # a sixth place on a thin spring
    ],
)
def test_a_missed_zero_is_told_from_another_reading(offset_mm, taken, said):
    text = lane.missed_zero(offset_mm, [reading(value) for value in taken], reading("0.30"))
    assert bool(text) is said


@pytest.mark.parametrize(
    ("offset_mm", "step_mm", "asked", "closed"),
    [
        (0.05, 0.01, None, True),
        (-0.05, 0.01, None, True),
        (0.06, 0.01, None, False),
        (-0.06, 0.01, None, False),
        (0.05, 0.01, DEPTH, True),
        (0.02, 0.01, THICKNESS, True),
        (0.03, 0.01, THICKNESS, False),  # the thinnest spring there is
        (0.01, 0.01, RECESS, True),
        (0.02, 0.01, RECESS, False),
        (0.0127, 0.0127, RECESS, True),
        (0.005, 0.001, THICKNESS, True),
        (0.006, 0.001, THICKNESS, False),
    ],
)
def test_closed_jaws_are_told_from_a_thin_part(offset_mm, step_mm, asked, closed):
    assert lane.shows_closed_jaws(offset_mm, step_mm, asked) is closed


@pytest.mark.parametrize("value", ["3.00", "11.02", "30.00"])
def test_plausible_bore_is_not_refused(value):
    assert lane.implausible(BORE, reading(value)) == ""


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        ("2.99", LengthUnit.MM, "2.99 mm is not a likely bore (3 to 30 mm)."),
        ("254.00", LengthUnit.MM, "254.00 mm is not a likely bore (3 to 30 mm)."),
        ("0.0433", LengthUnit.INCH, "0.0433 in is not a likely bore (3 to 30 mm)."),
    ],
)
def test_implausible_bore_is_named_in_the_unit_of_the_display(value, unit, said):
    reason = lane.implausible(BORE, reading(value, unit))
    assert reason == f"{said} Check the unit and the jaws."


def test_underscores_are_not_spoken():
    assert "likely found thickness (0.03 to 0.4 mm)" in lane.implausible(
        THICKNESS, reading("1.000")
    )


@pytest.mark.parametrize(
    ("others", "value", "note"),
    [
        (["11.02"], "12.00", ""),  # one other says nothing
        (["11.02", "11.04"], "11.30", ""),  # 3 % of a bore
        (
            ["11.02", "11.04"],
            "11.40",
            "+0.370 mm from the others. Close the jaws twice to take it back.",
        ),
        (["0.120", "0.121"], "0.130", ""),  # within ten steps
        (
            ["0.120", "0.121", "0.122"],
            "0.110",
            "-0.011 mm from the others. Close the jaws twice to take it back.",
        ),
    ],
)
def test_note_for_a_reading_far_from_the_others(others, value, note):
    assert lane.oddities([reading(each) for each in others], reading(value)) == note


def test_display_on_hold_is_noted():
    assert lane.oddities([], reading("2.31", flags=[Flag.HELD])) == "The display is on hold."


def test_a_low_battery_is_noted():
    low = reading("2.31", flags=[Flag.LOW_BATTERY])
    assert lane.oddities([], low) == "The battery of the gauge is low."


@pytest.mark.parametrize(
    ("displayed", "said"),
    [("7", True), ("11.5", True), ("11.47", False), ("11.470", False)],
)
def test_number_with_fewer_decimals_than_before_is_refused(displayed, said):
    earlier = [reading("11.47"), reading("11.48")]
    assert bool(lane.lost_decimals(earlier, reading(displayed))) is said


@pytest.mark.parametrize(
    ("address", "shown"),
    [("keys:?unit=mm", ["5.31", "5.3"]), ("sim:bench", ["5.31"])],
    ids=["typed", "sent"],
)
def test_a_value_typed_with_fewer_decimals_is_taken_and_one_that_was_sent_is_not(address, shown):
    who = gauge(address=address)
    lane_ = lane.Lane(who, (step("arbor"),), lambda series: None)
    for at_s, value in enumerate(["0.00", "5.31", "5.3"]):
        acts = lane_.hear(GaugeEvent(gauge_id=who.gauge_id, elapsed_s=at_s, body=reading(value)))
    assert [each.displayed for each in lane_.progress.standing("arbor")] == shown
    said = getattr(acts[0], "note", "") or acts[0].reason
    assert said == (
        "Taken as read to 0.1 mm."
        if who.is_typed
        else "5.3 mm has fewer decimals than before: send it again."
    )


def test_two_gauges_may_be_typed_and_a_whole_number_is_no_closed_jaw():
    who = gauge(address="keys:")
    steps = (step("lid", 1, low_mm=0.1), step("arbor", 2))
    lane_ = lane.Lane(who, steps, lambda series: None)
    for at_s, value in enumerate(["0", "0.341", "4.02", "4"]):
        lane_.hear(GaugeEvent(gauge_id=who.gauge_id, elapsed_s=at_s, body=reading(value)))
    assert [each.displayed for each in lane_.progress.standing("lid")] == ["0.341"]
    assert [each.displayed for each in lane_.progress.standing("arbor")] == ["4.02", "4"]


def test_first_number_of_a_job_may_have_any_decimals():
    assert lane.lost_decimals([], reading("7")) == ""


def test_number_that_lost_its_decimals_does_not_excuse_itself():
    others = [reading("11.47"), reading("11.48")]
    assert "from the others" in lane.oddities(others, reading("7"))
