"""The torque model within the sizing against tables, quadrature and brute-force search."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from alloys import alloy
from barrels import DRAWS
from scipy.integrate import quad
from scipy.optimize import brentq
from table_barrel import BARREL, TABLES, given, table_barrel, table_model, table_spring, value

from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.sizing.size_spring import size_spring


@pytest.mark.parametrize(
    "row", TABLES["curves_of_spirals"]["rows"], ids=lambda row: str(row["stress_mpa"])
)
def test_torque_table_by_nominal_stress(row: dict[str, Any]) -> None:
    model = table_model(table_barrel(row["stress_mpa"], TABLES["curves"]["length_mm"]))
    assert value(model.turns_usable) == pytest.approx(row["usable_turns"], abs=1e-3)
    assert value(model.hours_usable) == pytest.approx(8 * row["usable_turns"], abs=8e-3)
    assert value(model.torque_full) == pytest.approx(row["full_nmm"], abs=5e-3)
    assert value(model.energy) == pytest.approx(row["energy_mj"], abs=0.06)
    assert value(model.loose_coils) == pytest.approx(row["loose_coils"], abs=6e-3)
    kept = row["torque_nmm"][2] / row["full_nmm"]
    assert value(model.torque_kept) == pytest.approx(kept, abs=1e-3)


@pytest.mark.parametrize("row", TABLES["by_fill"]["rows"], ids=lambda row: str(row["fill"]))
def test_torque_table_by_fill(row: dict[str, Any]) -> None:
    ring = math.pi * (BARREL["bore_mm"] ** 2 - BARREL["arbor_mm"] ** 2) / 4
    length = row["fill"] * ring / BARREL["thickness_mm"]
    inputs = table_barrel(2000.0, length)
    result = size_spring(inputs, draws=DRAWS)
    assert result.documented is not None
    figures, spiral = result.documented.figures, row["spiral"]
    assert value(figures.turns) == pytest.approx(row["turns_rings"], abs=1e-3)
    assert value(figures.turns_usable) == pytest.approx(spiral["usable_turns"], abs=1.5e-3)
    assert figures.torque_model is not None
    assert value(figures.torque_model.energy) == pytest.approx(spiral["energy_mj"], abs=0.06)
    assert value(figures.torque_model.torque_kept) == pytest.approx(spiral["kept_3"], abs=1e-3)


def test_stress_range_of_a_coil_that_stays_loose_is_its_stress() -> None:
    """Rows of the table with loose coils: what a coil gives until no torque is left is sigma."""
    for row in TABLES["curves_of_spirals"]["rows"]:
        assert row["loose_coils"] > 0
        model = table_model(table_barrel(row["stress_mpa"], TABLES["curves"]["length_mm"]))
        assert value(model.stress_range) == value(model.stress_full) == row["stress_mpa"]


def clip_usable(spring: SpringInBarrel, wedge: float = 0.5) -> float:
    """Usable turns by adaptive quadrature of the clipped curvature change.

    A spiral begins and ends half a thickness from the wall and from the arbor, rings do not.
    """
    e, length = float(spring.thickness_mm), float(spring.length_mm)
    inner = (spring.bore_mm / 2 - wedge * e) ** 2 - e * length / math.pi
    bend = 2 * spring.full_wind_stress_mpa / (spring.modulus_mpa * e)

    def fallen(s: float) -> float:
        wound = 1 / math.sqrt((spring.arbor_mm / 2 + wedge * e) ** 2 + e * s / math.pi)
        return wound - 1 / math.sqrt(inner + e * s / math.pi)

    corner = 0.0 if fallen(0.0) <= bend else length
    if fallen(length) < bend < fallen(0.0):
        corner = brentq(lambda s: fallen(s) - bend, 0.0, length)
    on_wall, _ = quad(fallen, corner, length, epsabs=1e-11, limit=200)
    return float((corner * bend + on_wall) / (2 * math.pi))


@pytest.mark.parametrize("stress", [1200.0, 1800.0, 2600.0, 3200.0])
def test_every_spring_by_rule_agrees_with_quadrature(stress: float) -> None:
    inputs = table_barrel(stress, 340.0, documented=None)
    for rule in size_spring(inputs, draws=1000).rules:
        figures = rule.figures
        spring = SpringInBarrel(
            bore_mm=11.0,
            arbor_mm=BARREL["arbor_mm"],
            thickness_mm=value(figures.thickness),
            length_mm=value(figures.length),
            height_mm=1.0,
            modulus_mpa=215_000.0,
            full_wind_stress_mpa=stress,
        )
        assert value(figures.turns_usable) == pytest.approx(clip_usable(spring), abs=1e-7)


@pytest.mark.parametrize("thickness", [0.11, 0.12, 0.13])
def test_best_fill_for_usable_turns_by_brute_force(thickness: float) -> None:
    """Only an infinitely elastic spring is best at half fill; a real one above it."""
    ring = math.pi * (11.0**2 - BARREL["arbor_mm"] ** 2) / 4
    fills = np.linspace(0.3, 0.8, 101)
    springs = [
        replace(table_spring(2000.0), thickness_mm=thickness, length_mm=fill * ring / thickness)
        for fill in fills
    ]
    best = float(fills[int(np.argmax([clip_usable(each) for each in springs]))])
    assert 0.50 < best < 0.60
    length = best * ring / thickness
    there = table_barrel(2000.0, length, documented=given(thickness, 1.5, length))
    half = table_barrel(2000.0, 0.5 * ring / thickness)
    half = replace(half, documented=given(thickness, 1.5, 0.5 * ring / thickness))
    turns = [value(table_model(inputs).turns_usable) for inputs in (there, half)]
    assert turns[0] > turns[1]


@pytest.mark.parametrize("spread", [0.05, 0.15])
def test_interval_of_the_usable_turns_is_that_of_strength_and_coils(spread: float) -> None:
    """By a million draws of both, with the turns by quadrature on a line of stresses.

    ln sigma is normal; hub and hook make the turns more or less by anything up to what rings
    count more than the spiral.
    """
    half = TABLES["curves"]["length_mm"]
    model = table_model(table_barrel(2300.0, half, material=alloy(2300.0, spread)), draws=200_000)
    line = np.geomspace(1000.0, 5000.0, 200)
    turns = [clip_usable(table_spring(stress)) for stress in line]
    rng = np.random.default_rng(20)
    stress = 2300.0 * np.exp(spread * rng.standard_normal(1_000_000))
    at_mean = table_spring(float(stress.mean()))
    more = clip_usable(at_mean, wedge=0.0) - clip_usable(at_mean)
    drawn = np.interp(stress, line, turns) + more * rng.uniform(-1.0, 1.0, 1_000_000)
    low, high = np.quantile(drawn, [0.025, 0.975])
    assert value(model.turns_usable) == pytest.approx(clip_usable(at_mean), abs=1e-3)
    assert model.turns_usable.u == pytest.approx(drawn.std(), rel=0.01)
    assert (model.turns_usable.low, model.turns_usable.high) == pytest.approx((low, high), abs=5e-3)
