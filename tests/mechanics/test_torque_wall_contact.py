from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from watch_springs import healthy, of_fill, random_springs

from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.torque import (
    bands_of,
    contact_at_bend,
    contact_at_turns,
    ring_turns,
    turns_given_at,
    turns_left_at,
    whole_strip,
)


def grid_of_springs(size: int = 4000) -> SpringInBarrel:
    """Far beyond what barrels are: arbor 0.05 to 0.7 of the bore, fill 0.02 to 0.98."""
    random = np.random.default_rng(1)
    bore = np.full(size, 10.0)
    arbor = bore * random.uniform(0.05, 0.7, size)
    thickness = bore / random.uniform(40, 130, size)
    ring = math.pi * (bore**2 - arbor**2) / 4
    fields: dict[str, Any] = {
        "bore_mm": bore,
        "arbor_mm": arbor,
        "thickness_mm": thickness,
        "length_mm": random.uniform(0.02, 0.98, size) * ring / thickness,
        "height_mm": 1.5,
        "modulus_mpa": 215e3,
        "full_wind_stress_mpa": 2000.0,
    }
    return SpringInBarrel(**fields)


@pytest.mark.parametrize("part", [0.001, 0.1, 0.5, 0.9, 0.999])
def test_bend_and_place_of_contact_are_inverse_to_the_last_digits(part: float) -> None:
    bands = bands_of(grid_of_springs())
    low, high = bands.least_bend_per_mm, bands.most_bend_per_mm
    bend = low + part * (high - low)
    np.testing.assert_allclose(contact_at_bend(bands, bend).bend_per_mm, bend, rtol=1e-11)


@pytest.mark.parametrize("part", [1e-6, 0.001, 0.1, 0.5, 0.9, 0.999])
def test_turns_and_place_of_contact_are_inverse_to_the_last_digits(part: float) -> None:
    bands = bands_of(grid_of_springs())
    turns = part * np.asarray(turns_left_at(bands, whole_strip(bands)))
    np.testing.assert_allclose(
        turns_left_at(bands, contact_at_turns(bands, turns)), turns, rtol=1e-10
    )


@settings(deadline=None)
@given(random_springs(), st.floats(0.01, 0.99))
def test_turns_left_are_the_integral_of_what_is_still_bent(
    spring: SpringInBarrel, part: float
) -> None:
    bands = bands_of(spring)
    bend = bands.least_bend_per_mm + part * (bands.most_bend_per_mm - bands.least_bend_per_mm)
    contact = contact_at_bend(bands, bend)
    free_mm = float(math.pi * contact.free_mm2 / spring.thickness_mm)

    def still_bent(s: float) -> float:
        u = spring.thickness_mm * s / math.pi
        wound = (bands.wound_inner_mm**2 + u) ** -0.5
        down = (bands.down_inner_mm**2 + u) ** -0.5
        return float(wound - down - bend)

    turns = quad(still_bent, 0.0, free_mm, epsrel=1e-10)[0] / (2 * math.pi)
    assert turns_left_at(bands, contact) == pytest.approx(turns, rel=1e-6, abs=1e-9)


@settings(deadline=None)
@given(random_springs())
def test_limits_of_the_contact(spring: SpringInBarrel) -> None:
    bands = bands_of(spring)
    beyond = contact_at_bend(bands, 2 * bands.most_bend_per_mm)
    before = contact_at_bend(bands, 0.5 * bands.least_bend_per_mm)
    assert beyond.free_mm2 == pytest.approx(0.0, abs=1e-12 * bands.area_mm2)
    assert before.free_mm2 == pytest.approx(bands.area_mm2)
    turns = ring_turns(spring)
    assert turns_given_at(bands, beyond, 2 * bands.most_bend_per_mm) == pytest.approx(turns)
    half = turns_given_at(bands, before, 0.5 * bands.least_bend_per_mm)
    touched = turns_given_at(bands, whole_strip(bands), bands.least_bend_per_mm)
    assert half == pytest.approx(touched / 2)
    assert touched == pytest.approx(bands.least_bend_per_mm * spring.length_mm / (2 * math.pi))


def test_wall_is_touched_at_the_outer_end_first() -> None:
    bands = bands_of(healthy())
    bends = np.linspace(float(bands.least_bend_per_mm), float(bands.most_bend_per_mm), 50)
    free = np.asarray(contact_at_bend(bands, bends).free_mm2)
    assert free[0] == pytest.approx(bands.area_mm2)
    assert np.all(np.diff(free) < 0)


def test_run_down_has_no_turns_left() -> None:
    contact = contact_at_turns(bands_of(of_fill(0.5)), 0.0)
    assert contact.free_mm2 == 0.0
    assert contact.bend_per_mm == pytest.approx(bands_of(of_fill(0.5)).most_bend_per_mm)
