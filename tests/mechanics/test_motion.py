from __future__ import annotations

import pytest

from gaugelink.errors import SizingError
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.motion import (
    POWER_SAYING,
    MeasuredAmplitude,
    Position,
    Wind,
    expected_advice,
    expected_amplitude,
    motion_advice,
    thickness_for_amplitude,
)

FLAT, UPRIGHT = Position.HORIZONTAL, Position.VERTICAL
FULL, LATER = Wind.FULL, Wind.DAY_LATER


# Limits: W. J. Kleinlein 1920, no. 51 (270); H. Jendritzki, second-hand (200 upright after a
# day); below 200 flat at full wind and knocking from 320: common practice and memory.
@pytest.mark.parametrize(
    ("degrees", "position", "wind", "codes"),
    [
        (290, FLAT, FULL, []),
        (270, FLAT, FULL, []),
        (269, FLAT, FULL, ["amplitude-low"]),
        (200, FLAT, FULL, ["amplitude-low"]),
        (199, FLAT, FULL, ["service-first"]),
        (320, FLAT, FULL, ["knocks-already"]),
        (199, UPRIGHT, LATER, ["amplitude-low"]),
        (200, UPRIGHT, LATER, []),
        (230, FLAT, LATER, []),
        (150, UPRIGHT, FULL, []),
    ],
)
def test_what_an_amplitude_calls_for(
    degrees: float, position: Position, wind: Wind, codes: list[str]
) -> None:
    measured = MeasuredAmplitude(amplitude_deg=degrees, position=position, wind=wind)
    advice = motion_advice(measured)
    assert [one.code for one in advice] == codes
    assert all(f"{degrees:.0f} degrees" in one.text for one in advice)


@pytest.mark.parametrize(
    ("measured", "low", "high", "codes"),
    [
        (270.0, 1.0, 1.1, []),
        (290.0, 1.0, 1.25, ["may-knock"]),
        (300.0, 1.2, 1.25, ["knocks"]),
        (150.0, 1.3, 1.5, ["amplitude-guess"]),
        (300.0, 1.3, 1.6, ["knocks", "amplitude-guess"]),
    ],
)
def test_what_an_expected_amplitude_warns_of(
    measured: float, low: float, high: float, codes: list[str]
) -> None:
    advice = expected_advice(expected_amplitude(measured, Band(low=low, high=high)))
    assert [one.code for one in advice] == codes


def test_wished_amplitude_comes_with_service_first() -> None:
    weak = MeasuredAmplitude(amplitude_deg=190.0)
    wished = thickness_for_amplitude(weak, 270.0, 0.12)
    assert [one.code for one in wished.advice] == ["service-first", "stronger-spring"]
    ratio = 270 / 190
    assert (wished.torque_ratio.low, wished.torque_ratio.high) == pytest.approx(
        (ratio**1.5, ratio**2)
    )
    assert wished.thickness_mm.low == pytest.approx(0.12 * ratio**0.5)
    assert wished.thickness_mm.high == pytest.approx(0.12 * ratio)


def test_weaker_spring_needs_no_such_advice() -> None:
    strong = MeasuredAmplitude(amplitude_deg=318.0)
    wished = thickness_for_amplitude(strong, 290.0, 0.12)
    assert wished.advice == ()
    assert wished.thickness_mm.high < 0.12


def test_wish_that_knocks_is_refused_before_a_thickness_is_named() -> None:
    with pytest.raises(SizingError, match="knocks"):
        thickness_for_amplitude(MeasuredAmplitude(amplitude_deg=270.0), 325.0, 0.12)


def test_impossible_reading_is_refused() -> None:
    with pytest.raises(SizingError):
        motion_advice(MeasuredAmplitude(amplitude_deg=400.0))


def test_saying_is_shown_as_one() -> None:
    assert "trade says" in POWER_SAYING
    assert "Nobody measured" in POWER_SAYING
