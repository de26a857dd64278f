"""Hours, torque a day later, torque ratios; tables of fixtures/reference/mechanics_scaling.json."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from watch_springs import healthy, of_fill, random_springs, reference, running

from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.stopwork import of_equal_shape, torque_ratio, torque_ratio_at
from gaugelink.mechanics.torque import bend_after, torque_after, usable_turns

SCALING = reference("scaling")


def thin(thickness: float) -> SpringInBarrel:
    return healthy(thickness_mm=thickness, length_mm=300.0)


@pytest.mark.parametrize("row", SCALING["thicker"]["rows"], ids=lambda row: row["thickness_mm"])
def test_torque_of_a_thicker_spring(row: dict[str, Any]) -> None:
    old = thin(row["thickness_mm"])
    band = torque_ratio(thin(row["thickness_mm"] + 0.01), old)
    half = torque_ratio(thin(row["thickness_mm"] + 0.005), old)
    assert band.high == pytest.approx(row["shape_0.01"], abs=5.1e-4)
    assert band.low == pytest.approx(row["limit_0.01"], abs=6e-4)
    assert half.high == pytest.approx(row["shape_0.005"], abs=5.1e-4)


def test_torque_of_a_lower_spring() -> None:
    before, after = SCALING["lower"]["height_mm"]
    band = torque_ratio(healthy(height_mm=after), healthy(height_mm=before))
    assert band.low == pytest.approx(band.high)
    assert 100 * (band.low - 1) == pytest.approx(SCALING["lower"]["percent"], abs=0.051)


def test_ratio_a_day_later_lies_near_the_one_at_full_wind() -> None:
    band = torque_ratio(healthy(thickness_mm=0.13), healthy(), turns=3.0)
    # equal shape: still the cube, for the bend left depends on the geometry alone
    assert band.high == pytest.approx((13 / 12) ** 3, rel=0.03)
    assert 1.0 < band.low < (13 / 12) ** 2


@settings(deadline=None)
@given(random_springs(), st.floats(0.0, 0.9))
def test_spring_against_itself_is_one(spring: SpringInBarrel, part: float) -> None:
    band = torque_ratio(spring, spring, turns=part * float(usable_turns(spring)))
    assert (band.low, band.high) == pytest.approx((1.0, 1.0))


def test_equal_shape_bends_alike() -> None:
    other = healthy(thickness_mm=0.10, modulus_mpa=205_000.0)
    changed = of_equal_shape(other, healthy())
    assert changed.full_wind_bend_per_mm == pytest.approx(healthy().full_wind_bend_per_mm)
    assert changed.full_wind_torque_nmm / healthy().full_wind_torque_nmm == pytest.approx(
        (10 / 12) ** 3 * 205 / 215
    )


def test_hours_and_torque_of_the_example() -> None:
    result = running(healthy(), 8.0)
    assert result.power_reserve_h == pytest.approx(8 * 6.311, abs=0.005)
    assert result.full_wind_torque_nmm == pytest.approx(7.2)
    assert result.torque_after_nmm == pytest.approx(4.713, abs=6e-4)
    assert result.torque_kept == pytest.approx(result.torque_after_nmm / 7.2)
    assert result.after_h == 24.0


def test_spring_that_does_not_run_a_day_keeps_nothing() -> None:
    assert running(healthy(), 3.0).torque_kept == 0.0
    assert running(healthy(), 3.0, after_h=12.0).torque_kept > 0.0


def test_stock_is_compared_in_one_go() -> None:
    fills = np.linspace(0.3, 0.7, 50)
    stock = of_fill(fills)  # type: ignore[arg-type]
    band = torque_ratio(stock, healthy(), turns=3.0)
    kept = running(stock, 8.0).torque_after_nmm
    assert np.shape(band.low) == np.shape(kept) == (50,)
    alone = torque_ratio(of_fill(float(fills[7])), healthy(), turns=3.0)
    assert np.asarray(band.low)[7] == pytest.approx(alone.low)
    assert np.asarray(kept)[7] == pytest.approx(torque_after(of_fill(float(fills[7])), 3.0))


def test_ratio_of_known_states_is_the_ratio_of_the_turns_that_lead_there() -> None:
    spring, reference = healthy(thickness_mm=0.13, length_mm=340.0), healthy()
    bend, known = bend_after(spring, 3.0), torque_after(reference, 3.0)
    by_state = torque_ratio_at(spring, reference, bend, known)
    by_turns = torque_ratio(spring, reference, turns=3.0)
    assert (by_state.low, by_state.high) == (by_turns.low, by_turns.high)
