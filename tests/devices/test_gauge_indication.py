"""The unit rule alone: from a frame to a reading in mm, or to the reason why not."""

from __future__ import annotations

from decimal import Decimal

import pytest

from gaugelink.devices.gauge import KNOWN_FRAMES, UnitRule
from gaugelink.model import Fault, Flag, Frame, Reading, UnitSwitch
from gaugelink.units import LengthUnit

MM, INCH = LengthUnit.MM, LengthUnit.INCH


def frame(text: str, unit: LengthUnit | None, step: str | None = None) -> Frame:
    return Frame(
        value=Decimal(text),
        unit=unit,
        raw=text.encode(),
        channel="A",
        flags=frozenset({Flag.HELD}),
        step=None if step is None else Decimal(step),
    )


@pytest.mark.parametrize(
    ("text", "unit", "step", "value_mm", "resolution_mm", "displayed"),
    [
        ("11.52", MM, None, 11.52, 0.01, "11.52"),
        ("11.520", MM, None, 11.52, 0.001, "11.520"),
        ("11.52", MM, "0.02", 11.52, 0.02, "11.52"),
        ("0.4536", INCH, None, 11.52144, 0.00254, "0.4536"),
        ("0.4535", INCH, None, 11.5189, 0.0127, "0.4535"),
        ("0.4530", INCH, None, 11.5062, 0.0127, "0.4530"),
        ("0.4535", INCH, "0.0005", 11.5189, 0.0127, "0.4535"),
        ("12", MM, None, 12.0, 1.0, "12"),
        ("-0.01", MM, None, -0.01, 0.01, "-0.01"),
        # Ten decimal places would be written as 0E-10 without care.
        ("0.0000000000", MM, None, 0.0, 1e-10, "0.0000000000"),
    ],
)
def test_a_frame_becomes_a_reading(
    text: str,
    unit: LengthUnit,
    step: str | None,
    value_mm: float,
    resolution_mm: float,
    displayed: str,
) -> None:
    assert UnitRule().judge(frame(text, unit, step)) == Reading(
        value_mm=value_mm,
        resolution_mm=resolution_mm,
        displayed=displayed,
        unit=unit,
        raw=text.encode(),
        channel="A",
        flags=frozenset({Flag.HELD}),
    )


@pytest.mark.parametrize("unit", [MM, INCH])
def test_no_reading_is_minus_zero(unit: LengthUnit) -> None:
    reading = UnitRule().judge(frame("-0.00", unit))
    assert isinstance(reading, Reading)
    assert str(reading.value_mm) == "0.0"
    assert reading.displayed == "-0.00"


def test_frames_without_unit_do_not_set_the_unit_of_the_job() -> None:
    rule = UnitRule()
    assert isinstance(rule.judge(frame("1.0", None)), Fault)
    assert rule.job_unit is None
    assert isinstance(rule.judge(frame("1.0", INCH)), Reading)
    assert rule.job_unit is INCH
    assert isinstance(rule.judge(frame("1.0", MM)), UnitSwitch)
    assert rule.job_unit is INCH


def test_an_inch_display_that_shows_other_last_digits_counts_singly() -> None:
    rule = UnitRule()
    shown = ["0.4535", "0.4530", "0.4531", "0.4535"]
    readings = [rule.judge(frame(text, INCH)) for text in shown]
    steps_mm = [reading.resolution_mm for reading in readings if isinstance(reading, Reading)]
    assert steps_mm == [0.0127, 0.0127, 0.00254, 0.00254]


def test_a_frame_that_comes_again_gives_its_reading_again_with_the_step_known_by_then() -> None:
    rule = UnitRule()
    first = frame("0.4530", INCH)
    assert rule.judge(first) is rule.judge(first)
    rule.judge(frame("0.4531", INCH))
    assert rule.judge(first).resolution_mm == pytest.approx(0.00254)


def test_another_frame_of_the_same_bytes_has_its_own_reading() -> None:
    rule = UnitRule()
    for text in ("0.00", "0.000"):  # equal numbers, but not the same steps
        each = Frame(value=Decimal(text), unit=MM, raw=b"\x00")
        assert rule.judge(each).displayed == text


def test_frames_that_do_not_come_again_are_forgotten() -> None:
    rule = UnitRule()
    frames = [frame(str(n), MM) for n in range(KNOWN_FRAMES + 1)]
    first, *_ = [rule.judge(each) for each in frames]
    assert rule.judge(frames[0]) == first
    assert rule.judge(frames[0]) is not first
