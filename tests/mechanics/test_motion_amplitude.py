"""Amplitude by torque: fixtures/reference/mechanics_scaling.json, and a simulated balance."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from watch_springs import reference

from gaugelink.errors import SizingError
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.motion import (
    KNOCKING_FROM_DEG,
    MOST_DEG,
    OLD_EXPONENT,
    expected_amplitude,
    thickness_for_torque,
    torque_for_amplitude,
)

SCALING = reference("scaling")


def band(low: float, high: float | None = None) -> Band:
    return Band(low=low, high=low if high is None else high)


def swing(torque: float, dry_share: float) -> float:
    """Steady amplitude, beat by beat; loss a A + b A^2, of which a A is the share at torque 1."""
    gain, dry, viscous = torque * 0.02, dry_share * 0.02, (1 - dry_share) * 0.02
    amplitude = 1.0
    for _ in range(3000):
        loss = dry * amplitude + viscous * amplitude**2
        amplitude = math.sqrt(amplitude**2 + gain - loss)
    return amplitude


@pytest.mark.parametrize("row", SCALING["thicker"]["rows"], ids=lambda row: row["thickness_mm"])
def test_amplitude_of_a_thicker_spring(row: dict[str, Any]) -> None:
    torque = ((row["thickness_mm"] + 0.01) / row["thickness_mm"]) ** 3
    # from 200 degrees, so that no limit is reached
    expected = expected_amplitude(200.0, band(torque))
    assert expected.low_deg / 200 == pytest.approx(row["amplitude"], abs=6e-4)
    of_270 = expected_amplitude(270.0, band(torque))
    assert of_270.low_deg == pytest.approx(row["of_270_deg"], abs=0.6)


def test_torque_from_four_to_five() -> None:
    expected = expected_amplitude(100.0, band(5 / 4))
    assert expected.low_deg == pytest.approx(100 * SCALING["torque_4_to_5"], abs=0.051)


@pytest.mark.parametrize(("share", "exponent", "ratio"), SCALING["dry_share"]["rows"])
def test_exponent_by_dry_share(share: float, exponent: float, ratio: float) -> None:
    torque = SCALING["dry_share"]["torque"]
    assert 1 / (share + 2 * (1 - share)) == pytest.approx(exponent, abs=0.0051)
    # the finite change: share x A + (1 - share) x A^2 = torque
    assert share * ratio + (1 - share) * ratio**2 == pytest.approx(torque, abs=0.002)
    expected = expected_amplitude(100.0, band(torque))
    inside = share <= 0.5
    assert (ratio * 100 <= expected.high_deg + 0.1) == inside


@pytest.mark.parametrize("dry_share", [0.0, 0.25, 0.5])
@pytest.mark.parametrize("torque", [0.8, 1.2])
def test_simulated_balance_swings_within_the_band(torque: float, dry_share: float) -> None:
    expected = expected_amplitude(100.0, band(torque))
    simulated = 100 * swing(torque, dry_share) / swing(1.0, dry_share)
    # the law is local: a per mille beyond the end at a fifth more or less torque
    assert expected.low_deg - 0.4 <= simulated <= expected.high_deg + 0.4


def test_band_is_one_sided_about_the_square_root() -> None:
    more, less = expected_amplitude(200.0, band(1.2)), expected_amplitude(200.0, band(0.8))
    assert more.low_deg == pytest.approx(200 * 1.2**0.5)
    assert more.high_deg == pytest.approx(200 * 1.2**OLD_EXPONENT)
    assert less.high_deg == pytest.approx(200 * 0.8**0.5)
    assert less.low_deg == pytest.approx(200 * 0.8**OLD_EXPONENT)
    assert pytest.approx(0.667, abs=0.001) == OLD_EXPONENT


@settings(deadline=None)
@given(st.floats(50.0, 319.0), st.floats(0.3, 3.0), st.floats(1.0, 2.0))
def test_band_holds_the_clean_law_and_ends_at_the_most(
    measured: float, low: float, wider: float
) -> None:
    expected = expected_amplitude(measured, band(low, low * wider))
    assert expected.low_deg <= expected.high_deg <= MOST_DEG
    for ratio in (low, low * wider):
        clean = min(measured * ratio**0.5, MOST_DEG)
        assert expected.low_deg <= clean * (1 + 1e-12)
        assert clean <= expected.high_deg * (1 + 1e-12)
    if expected.will_knock:
        assert expected.may_knock


def test_same_torque_gives_the_same_amplitude() -> None:
    expected = expected_amplitude(270.0, band(1.0))
    assert (expected.low_deg, expected.high_deg) == (270.0, 270.0)
    assert not (expected.may_knock or expected.will_knock or expected.extrapolated)


@pytest.mark.parametrize(
    ("measured", "low", "high", "may", "will", "beyond"),
    [
        (270.0, 0.9, 1.1, False, False, False),
        (290.0, 1.0, 1.25, True, False, False),
        (300.0, 1.2, 1.25, True, True, False),
        (200.0, 1.3, 1.5, False, False, True),
        (250.0, 0.6, 0.9, False, False, True),
    ],
)
def test_marks(
    measured: float, low: float, high: float, may: bool, will: bool, beyond: bool
) -> None:
    expected = expected_amplitude(measured, band(low, high))
    marks = (expected.may_knock, expected.will_knock, expected.extrapolated)
    assert tuple(bool(mark) for mark in marks) == (may, will, beyond)


@pytest.mark.parametrize(
    ("measured", "may", "low_deg"),
    [
        (319.9, False, 319.9),
        (320.0, True, 320.0),
        (329.9, True, 329.9),
        (330.1, True, 330.0),
        (360.0, True, 330.0),
    ],
)
def test_knocking_begins_at_320_degrees_and_no_balance_swings_beyond_330(
    measured: float, may: bool, low_deg: float
) -> None:
    expected = expected_amplitude(measured, band(1.0))
    assert (bool(expected.may_knock), bool(expected.will_knock)) == (may, may)
    assert (expected.low_deg, expected.high_deg) == (low_deg, low_deg)


@pytest.mark.parametrize(
    ("low", "high", "beyond"),
    [(0.7, 1.3, False), (0.699, 1.3, True), (0.7, 1.301, True), (1.31, 1.31, True)],
)
def test_the_law_holds_for_three_tenths_either_way(low: float, high: float, beyond: bool) -> None:
    assert bool(expected_amplitude(200.0, band(low, high)).extrapolated) is beyond


def test_the_least_swing_is_a_swing() -> None:
    assert expected_amplitude(0.5, band(1.0)).low_deg == 0.5


def test_the_widest_swing_that_may_be_wished_for() -> None:
    wished = torque_for_amplitude(250.0, 319.9)
    assert wished.high == pytest.approx((319.9 / 250) ** 2)
    assert torque_for_amplitude(360.0, 300.0).low == pytest.approx((300 / 360) ** 2)
    with pytest.raises(SizingError, match="not possible"):
        torque_for_amplitude(360.1, 300.0)


def test_candidates_at_once() -> None:
    ratios = Band(low=np.array([0.9, 1.2, 1.6]), high=np.array([1.0, 1.3, 2.0]))
    many = expected_amplitude(290.0, ratios)
    for index in range(3):
        alone = expected_amplitude(290.0, band(ratios.low[index], ratios.high[index]))  # type: ignore[index]
        for name in type(alone)._fields:
            assert np.asarray(getattr(many, name))[index] == getattr(alone, name), name


@settings(deadline=None)
@given(st.floats(100.0, 310.0), st.floats(100.0, 319.0))
def test_torque_for_an_amplitude_gives_it_back(measured: float, wished: float) -> None:
    needed = torque_for_amplitude(measured, wished)
    assert needed.low <= needed.high
    back = [expected_amplitude(measured, band(float(r))) for r in (needed.low, needed.high)]
    assert min(e.low_deg for e in back) <= wished * (1 + 1e-9)
    assert wished * (1 - 1e-9) <= max(e.high_deg for e in back)


def test_torque_and_thickness_by_hand() -> None:
    needed = torque_for_amplitude(225.0, 270.0)
    assert (needed.low, needed.high) == pytest.approx((1.2**1.5, 1.44))
    thicker = thickness_for_torque(0.10, band(1.331, 1.331))
    assert (thicker.low, thicker.high) == pytest.approx((0.11, 0.10 * 1.331**0.5))
    thinner = thickness_for_torque(0.10, band(0.81, 0.81))
    assert (thinner.low, thinner.high) == pytest.approx((0.09, 0.10 * 0.81 ** (1 / 3)))


@pytest.mark.parametrize("wished", [KNOCKING_FROM_DEG, 350.0])
def test_wish_that_knocks_is_refused(wished: float) -> None:
    with pytest.raises(SizingError, match="knocks") as refused:
        torque_for_amplitude(270.0, wished)
    assert "320" in refused.value.hint


@pytest.mark.parametrize("amplitude", [0.0, -10.0, 361.0, math.nan])
def test_impossible_amplitude_is_refused(amplitude: float) -> None:
    for attempt in (
        lambda: expected_amplitude(amplitude, band(1.0)),
        lambda: torque_for_amplitude(amplitude, 270.0),
        lambda: torque_for_amplitude(270.0, amplitude),
    ):
        with pytest.raises(SizingError):
            attempt()
