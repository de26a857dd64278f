"""Set and stress: fixtures/reference/mechanics_set.json, and the section fibre by fibre."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from free_shape_oracle import (
    curvature_after_set,
    moment_over_yield,
    stress_after_set_mpa,
    yield_curvature_per_mm,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from watch_springs import healthy, nominal_stress_mpa, reference

from gaugelink.mechanics.materials import Material, material_named, shipped_materials
from gaugelink.mechanics.stress import (
    stress_range_mpa,
    stress_warnings,
)

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


def test_no_set_below_yield_and_never_more_than_half_again() -> None:
    assert curvature_after_set(0.1, YIELD, MODULUS, THICKNESS) == pytest.approx(0.0, abs=1e-15)
    assert moment_over_yield(1.0) == 1.0
    assert moment_over_yield(1e6) == pytest.approx(1.5)


def test_stress_range_of_the_innermost_coil() -> None:
    assert stress_range_mpa(healthy()) == pytest.approx(SET["stress_range_mpa"], abs=0.51)


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
        ({"arbor_mm": 2.39}, 4500.0, ["arbor-small"]),
        ({}, 1944.0, ["stress-range"]),
        (
            {"arbor_mm": 2.0, "full_wind_stress_mpa": 4000.0},
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


def test_steel_loses_strength_on_an_arbor_that_an_alloy_bears() -> None:
    swing = stress_range_mpa(healthy(arbor_mm=3.3))
    steel, alloy = (material_named(n) for n in ("carbon-steel", "high-strength-cobalt"))
    assert 2 * steel.yield_mpa.high < swing < 2 * alloy.yield_mpa.high
