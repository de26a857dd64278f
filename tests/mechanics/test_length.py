"""Ways to the length: fixtures/reference/mechanics_length.json, computed by length_clues.py."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from watch_springs import random_springs, reference

from gaugelink.mechanics.found_length import (
    length_from_band,
    length_from_coils,
    length_from_mass,
    length_from_winder,
    length_from_winder_coils,
)
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.torque import bands_of
from gaugelink.uncertainty.estimate import quantity_from_typed
from gaugelink.uncertainty.first_order import propagate

KNOWN = reference("length")
SPRING = KNOWN["spring"]
LENGTH, E, H, BORE = (
    SPRING[name] for name in ("length_mm", "thickness_mm", "height_mm", "bore_mm")
)


def u_of(equation: Callable[..., Any], values: Mapping[str, tuple[float, float]]) -> float:
    """Relative standard uncertainty to first order; ``values`` by name: value and its u."""
    inputs = [quantity_from_typed(name, value, u) for name, (value, u) in values.items()]
    (line,) = propagate(lambda known: {"y": equation(*known.values())}, inputs)
    return line.u / line.value


def test_mass_of_the_example() -> None:
    for density, mass in KNOWN["mass_mg_of_352_mm"].items():
        length = length_from_mass(mass, float(density), H, E)
        assert length == pytest.approx(LENGTH, abs=0.06)


@pytest.mark.parametrize("row", KNOWN["mass"]["rows"], ids=lambda row: row["thickness"])
def test_uncertainty_from_mass(row: dict[str, float]) -> None:
    density = KNOWN["mass"]["density_g_cm3"]
    values = {
        "mass": (KNOWN["mass"]["mass_mg"], row["mass"]),
        "density": (density, row["density"] * density),
        "height": (H, row["height"]),
        "thickness": (E, row["thickness"]),
    }
    u = u_of(length_from_mass, values)
    assert 100 * u == pytest.approx(row["u_percent"], abs=0.051)
    if "u_mm" in row:
        assert u * LENGTH == pytest.approx(row["u_mm"], abs=0.051)


def test_wrong_alloy() -> None:
    low, high = KNOWN["wrong_alloy_percent"]["range"]
    right = length_from_mass(500.0, 7.85, H, E)
    wrong = [100 * (right / length_from_mass(500.0, rho, H, E) - 1) for rho in (8.3, 8.5)]
    assert wrong == pytest.approx([low, high], abs=0.05)


@pytest.mark.parametrize("row", KNOWN["band"]["rows"], ids=lambda row: row["band_inside"])
def test_uncertainty_from_the_band(row: dict[str, float]) -> None:
    inside = KNOWN["band"]["band_inside_mm"]
    assert length_from_band(BORE, inside, E, 1.0) == pytest.approx(LENGTH, abs=0.05)
    values = {
        "bore": (BORE, row["bore"]),
        "inside": (inside, row["band_inside"]),
        "thickness": (E, row["thickness"]),
        "packing": (1.0, 0.0),
    }
    assert u_of(length_from_band, values) * LENGTH == pytest.approx(row["u_mm"], abs=0.051)


def test_loose_coils_shorten_the_length() -> None:
    close, loose = (length_from_band(BORE, 8.199, E, q) for q in (1.0, 1.05))
    assert loose == pytest.approx(close / 1.05)


def test_coils_on_the_wall() -> None:
    row = KNOWN["coils"]
    assert length_from_coils(BORE, row["coils"], E) == pytest.approx(row["length_mm"], abs=0.05)
    quarter = length_from_coils(BORE, row["coils"] + 0.25, E) - row["length_mm"]
    assert quarter == pytest.approx(row["quarter_mm"], abs=0.2)
    values = {"bore": (BORE, 0.02), "coils": (row["coils"], 0.25), "thickness": (E, 0.002)}
    assert u_of(length_from_coils, values) * LENGTH == pytest.approx(row["u_total_mm"], abs=0.051)


@settings(deadline=None)
@given(random_springs(), st.floats(7.0, 9.0))
def test_every_way_finds_the_length_that_is_there(spring: SpringInBarrel, density: float) -> None:
    bands, e = bands_of(spring), spring.thickness_mm
    inside, core = 2 * bands.down_inner_mm, spring.arbor_mm
    outside = 2 * bands.wound_outer_mm
    coils = (spring.bore_mm - inside) / (2 * e)
    core_coils = (outside - core) / (2 * e)
    mass = density * spring.length_mm * e * spring.height_mm
    found = [
        length_from_mass(mass, density, spring.height_mm, e),
        length_from_band(spring.bore_mm, inside, e, 1.0),
        length_from_coils(spring.bore_mm, coils, e),
        length_from_winder(core, outside, e, 1.0),
        length_from_winder_coils(core, core_coils, e),
    ]
    assert found == pytest.approx([spring.length_mm] * 5, rel=1e-6)
