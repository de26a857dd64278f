"""The tables of fixtures/reference/mechanics_torque.json, computed by torque_model.py there."""

from __future__ import annotations

import math
from typing import Any

import pytest
from free_shape_oracle import reverse_stress_mpa
from watch_springs import (
    healthy,
    nominal_stress_mpa,
    of_fill,
    reference,
    running,
    torque_per_turn_nmm,
)

from gaugelink.mechanics.torque import ring_turns, run_down, torque_after, usable_turns

TABLES = reference("torque")


@pytest.mark.parametrize("row", TABLES["curves"]["rows"], ids=lambda row: f"{row['stress_mpa']}")
def test_torque_turns_and_energy_by_stress(row: dict[str, Any]) -> None:
    spring = healthy(
        length_mm=TABLES["curves"]["length_mm"], full_wind_stress_mpa=float(row["stress_mpa"])
    )
    whole = run_down(spring)
    assert spring.full_wind_torque_nmm == pytest.approx(row["full_nmm"])
    for turns, torque in zip(TABLES["curves"]["turns"], row["torque_nmm"], strict=True):
        assert torque_after(spring, turns) == pytest.approx(torque, abs=5.1e-4), turns
    assert whole.turns_usable == pytest.approx(row["usable_turns"], abs=6e-4)
    assert whole.energy_mj == pytest.approx(row["energy_mj"], abs=0.051)


def test_energy_to_four_decimals() -> None:
    row = TABLES["curves"]["rows"][0]
    assert run_down(healthy()).energy_mj == pytest.approx(row["energy_mj"], abs=5.1e-5)


@pytest.mark.parametrize(("modulus", "stress", "percent"), TABLES["kept_after_a_day"]["rows"])
def test_torque_kept_after_a_day(modulus: float, stress: float, percent: float) -> None:
    spring = healthy(modulus_mpa=1000.0 * modulus, full_wind_stress_mpa=float(stress))
    assert 100 * running(spring, 8.0).torque_kept == pytest.approx(percent, abs=0.51)


@pytest.mark.parametrize("row", TABLES["by_fill"]["rows"], ids=lambda row: f"{row['fill']}")
def test_turns_energy_and_torque_by_fill(row: dict[str, Any]) -> None:
    spring = of_fill(row["fill"])
    whole = run_down(spring)
    full = spring.full_wind_torque_nmm
    assert spring.length_mm == pytest.approx(row["length_mm"], abs=0.6)
    assert whole.turns_rings == pytest.approx(row["turns_rings"], abs=6e-4)
    assert whole.turns_usable == pytest.approx(row["usable_turns"], abs=6e-4)
    assert whole.energy_mj == pytest.approx(row["energy_mj"], abs=0.06)
    for turns in (3, 5):
        kept = torque_after(spring, turns) / full
        assert kept == pytest.approx(row[f"kept_{turns}"], abs=6e-4)


def _best_fill(what: str, bores: float, stress: float) -> float:
    import numpy as np

    fills = np.linspace(0.45, 0.75, 601)
    spring = of_fill(fills, thickness_mm=11 / bores, full_wind_stress_mpa=stress)  # type: ignore[arg-type]
    return float(fills[np.argmax(getattr(run_down(spring), what))])


@pytest.mark.parametrize(("bores", "stress", "fill"), TABLES["best_fill"]["rows"])
def test_fill_of_most_usable_turns_lies_above_one_half(
    bores: float, stress: float, fill: float
) -> None:
    assert _best_fill("turns_usable", bores, stress) == pytest.approx(fill, abs=0.0051)


@pytest.mark.parametrize("stress", [1500.0, 2000.0, 2500.0, 3000.0])
def test_fill_of_most_energy_is_higher_still(stress: float) -> None:
    low, high = TABLES["best_fill"]["for_energy"]
    best = _best_fill("energy_mj", 87, stress)
    assert low - 0.0051 <= best <= high + 0.0051
    assert best > _best_fill("turns_usable", 87, stress)


@pytest.mark.parametrize("material", ["alloy", "steel"])
def test_turns_lost_to_limited_elasticity(material: str) -> None:
    row = TABLES["turns_lost"][material]
    for stress, lost in zip(row["stress_mpa"], row["lost"], strict=True):
        spring = healthy(modulus_mpa=1000.0 * row["modulus_gpa"], full_wind_stress_mpa=stress)
        assert ring_turns(spring) - usable_turns(spring) == pytest.approx(lost, abs=0.051)


def test_torque_per_turn_of_a_watch_spring() -> None:
    row = TABLES["slope"]
    spring = healthy(
        length_mm=row["length_mm"],
        height_mm=row["height_mm"],
        modulus_mpa=1000 * row["modulus_gpa"],
    )
    assert torque_per_turn_nmm(spring) == pytest.approx(row["torque_per_turn_nmm"], abs=5.1e-8)
    one_turn = torque_after(spring, 0.5) - torque_after(spring, 1.5)
    assert one_turn == pytest.approx(row["torque_per_turn_nmm"], abs=5.1e-8)


def test_flat_spring_of_a_spring_maker() -> None:
    given, want = TABLES["flat_spring"]["given"], TABLES["flat_spring"]["computed"]
    spring = healthy(bore_mm=100.0, arbor_mm=10.0, **given)
    per_turn = torque_per_turn_nmm(spring)
    assert per_turn == pytest.approx(want["nmm_per_turn"], abs=5.1e-5)
    assert per_turn / (2 * math.pi) == pytest.approx(want["nmm_per_rad"], abs=5.1e-5)
    stress = nominal_stress_mpa(per_turn, spring.height_mm, spring.thickness_mm)
    assert stress == pytest.approx(want["mpa_per_turn"], abs=5.1e-5)


def test_stress_that_bends_the_free_end_backwards() -> None:
    want = TABLES["reverse_stress_mpa"]["value"]
    assert reverse_stress_mpa(healthy()) == pytest.approx(want, abs=0.51)
