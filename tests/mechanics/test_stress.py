"""Set and stress: fixtures/reference/mechanics_set.json, and the section fibre by fibre."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np
import pytest
from clip_oracle import ClipOracle
from free_shape_oracle import (
    curvature_after_set,
    moment_over_yield,
    stress_after_set_mpa,
    yield_curvature_per_mm,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from watch_springs import healthy, nominal_stress_mpa, random_springs, reference

from gaugelink.mechanics.materials import Material, shipped_materials
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.stress import stress_range_mpa, stress_warnings
from gaugelink.mechanics.torque import run_down

SET = reference("set")
GIVEN = SET["given"]
YIELD, MODULUS, THICKNESS = GIVEN["yield_mpa"], GIVEN["modulus_mpa"], GIVEN["thickness_mm"]


@pytest.mark.parametrize("row", SET["rows"], ids=lambda row: f"{row['bent_per_mm']}")
def test_moment_and_set_by_curvature(row: dict[str, Any]) -> None:
    over_yield = row["bent_per_mm"] / yield_curvature_per_mm(YIELD, MODULUS, THICKNESS)
    free = curvature_after_set(row["bent_per_mm"], YIELD, MODULUS, THICKNESS)
    assert over_yield == pytest.approx(row["over_yield"], abs=0.0051)
    assert moment_over_yield(over_yield) == pytest.approx(row["moment_over_yield"], abs=6e-4)
    assert 1 / free == pytest.approx(row["free_radius_mm"], rel=0.006)


@settings(deadline=None)
@given(st.floats(0.05, 20.0))
def test_moment_is_that_of_a_section_of_fibres(over_yield: float) -> None:
    fibres = (np.arange(4000) + 0.5) / 4000  # half a section, 0 to 1
    moment = 3 * np.mean(np.minimum(fibres * over_yield, 1.0) * fibres)
    assert moment_over_yield(over_yield) == pytest.approx(moment, rel=1e-5)


@given(st.floats(1.0, 50.0))
def test_springback_is_the_published_one(over_yield: float) -> None:
    """R_i / R_f = 4 X^3 - 3 X + 1 with X = sigma_y R_i / (E t), the Gardiner form.

    As printed on the spring-back page of novasolver.jp.
    """
    bent = over_yield * yield_curvature_per_mm(YIELD, MODULUS, THICKNESS)
    x = YIELD / (bent * MODULUS * THICKNESS)
    free = curvature_after_set(bent, YIELD, MODULUS, THICKNESS)
    assert free / bent == pytest.approx(4 * x**3 - 3 * x + 1, abs=1e-12)


def test_no_set_below_yield_and_never_more_than_half_again() -> None:
    assert curvature_after_set(0.1, YIELD, MODULUS, THICKNESS) == pytest.approx(0.0, abs=1e-15)
    assert moment_over_yield(1.0) == 1.0
    assert moment_over_yield(1e6) == pytest.approx(1.5)


def test_stress_range_of_the_innermost_coil_that_reaches_the_wall() -> None:
    strong = healthy(full_wind_stress_mpa=5000.0)
    assert run_down(strong).loose_coils == pytest.approx(0.0, abs=1e-9)
    assert stress_range_mpa(strong) == pytest.approx(SET["stress_range_mpa"], abs=0.51)


@settings(deadline=None)
@given(random_springs())
def test_a_coil_that_stays_loose_swings_by_its_whole_stress(spring: SpringInBarrel) -> None:
    """At no torque it lies as it does when free, by the clip model: no published number.

    The swing is E e / 2 times what the innermost element straightens by.
    """
    clip = ClipOracle(*(float(getattr(spring, field.name)) for field in fields(spring)))
    straightened = clip.wound(0.0) - clip.taken(0.0, 0.0)
    want = clip.modulus * clip.thickness / 2 * straightened
    assert stress_range_mpa(spring) == pytest.approx(want, rel=1e-9)
    if clip.loose_coils() > 0:
        assert want == pytest.approx(clip.stress, rel=1e-9)


def test_stress_after_set_is_the_first_row() -> None:
    want = SET["rows"][0]["moment_over_yield"] * YIELD
    assert stress_after_set_mpa(healthy(), YIELD) == pytest.approx(want, rel=4e-4)


def test_nominal_stress_undoes_the_full_wind_torque() -> None:
    spring = healthy()
    stress = nominal_stress_mpa(spring.full_wind_torque_nmm, spring.height_mm, spring.thickness_mm)
    assert stress == pytest.approx(spring.full_wind_stress_mpa)


@pytest.mark.parametrize(
    ("changes", "yield_mpa", "codes"),
    [
        ({}, 2000.0, []),
        # above the yield stress, as every healthy spring is
        ({"full_wind_stress_mpa": 2900.0}, 2000.0, []),
        ({"full_wind_stress_mpa": 3001.0}, 2000.0, ["moment-over-plastic"]),
        # 20 thicknesses of 0.12 mm, and the one by which a spiral begins further out
        ({"arbor_mm": 2.51}, 4500.0, ["arbor-small"]),
        ({"arbor_mm": 2.53}, 4500.0, []),
        # its inner coils stay loose and swing by 2000 MPa, not by the 3890 MPa to the wall
        ({}, 1500.0, []),
        ({"full_wind_stress_mpa": 5000.0}, 1946.0, ["moment-over-plastic"]),
        ({"full_wind_stress_mpa": 5000.0}, 1944.0, ["moment-over-plastic", "stress-range"]),
        (
            {"arbor_mm": 2.0, "full_wind_stress_mpa": 4001.0},
            2000.0,
            ["moment-over-plastic", "arbor-small", "stress-range"],
        ),
    ],
)
def test_warnings(changes: dict[str, float], yield_mpa: float, codes: list[str]) -> None:
    warned = stress_warnings(healthy(**changes), yield_mpa)
    assert [advice.code for advice in warned] == codes
    assert all(advice.text.endswith(".") for advice in warned)


@pytest.mark.parametrize("material", shipped_materials(), ids=lambda material: material.name)
def test_a_usual_spring_of_any_material_warns_of_nothing(material: Material) -> None:
    for stress in (material.full_wind_stress_mpa.low, material.full_wind_stress_mpa.high):
        spring = healthy(modulus_mpa=material.modulus_mpa, full_wind_stress_mpa=stress)
        assert stress_warnings(spring, material.yield_mpa.high) == ()


def test_only_what_is_beyond_plastic_bending_swings_beyond_what_it_bears() -> None:
    """The swing is sigma at most, so that with sigma <= 1.5 sigma_y it is below 2 sigma_y."""
    for stress in (1500.0, 2250.0, 3000.0):
        spring = healthy(full_wind_stress_mpa=stress, arbor_mm=2.6)
        assert stress_warnings(spring, stress / 1.5) == ()
