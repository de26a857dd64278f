"""Worked examples in print, slips included: fixtures/reference/barrel_published_examples.json."""

from __future__ import annotations

import math
from typing import Any

import pytest
from barrels import exact, healthy, reference

from gaugelink.mechanics.train import Mesh, Train
from gaugelink.sizing import rules as eq
from gaugelink.sizing.inputs import GivenSpring
from gaugelink.sizing.size_spring import size_spring

PUBLISHED = reference("published_examples")


def _figure(name: str, given: dict[str, float]) -> float:
    bore, arbor, e = given["bore_mm"], given["arbor_mm"], given["thickness_mm"]
    length = eq.half_area_length(bore, arbor, e)
    figures = {
        "half_area_length": lambda: length,
        "common_radius": lambda: eq.wound_outer_diameter(arbor, e, length) / 2,
        "coils_down": lambda: eq.coils_run_down(bore, e, length),
        "most_turns": lambda: eq.development_turns(bore, arbor, e, length),
        "thickness_for_turns": lambda: eq.thickness_for_turns(bore, arbor, given["turns"]),
    }
    return figures[name]()


@pytest.mark.parametrize("example", PUBLISHED["examples"], ids=lambda example: example["name"])
def test_printed_examples_agree_and_printed_slips_do_not(example: dict[str, Any]) -> None:
    for name, printed in example["printed"].items():
        computed = _figure(name, example["given"])
        assert computed == pytest.approx(example["right"][name], rel=2e-5), name
        differs = abs(computed - printed) > example["tolerance"][name]
        assert differs == (name in example["slips"]), name


def test_coils_in_print_follow_from_the_barrel_they_imply() -> None:
    implied, printed = PUBLISHED["coils"]["implied"], PUBLISHED["coils"]["printed"]
    bore = 2 * implied["radius_per_thickness"]
    arbor = implied["arbor_per_bore"] * bore
    length = eq.half_area_length(bore, arbor, 1.0)
    assert eq.coils_run_down(bore, 1.0, length) == pytest.approx(printed["run_down"], abs=0.05)
    assert eq.coils_wound(arbor, 1.0, length) == pytest.approx(printed["wound"], abs=0.05)
    assert eq.development_turns(bore, arbor, 1.0, length) == pytest.approx(
        printed["turns"], abs=0.05
    )


def test_torque_piece_of_the_flat_spring() -> None:
    given, computed = PUBLISHED["flat_spring"]["given"], PUBLISHED["flat_spring"]["computed"]
    piece = eq.torque_of_equal_shape(given["height_mm"], given["thickness_mm"], given["length_mm"])
    nmm_per_rad = given["modulus_mpa"] / 12 * piece
    assert nmm_per_rad == pytest.approx(computed["nmm_per_rad"], rel=1e-6)
    assert 2 * math.pi * nmm_per_rad == pytest.approx(computed["nmm_per_turn"], rel=1e-6)


@pytest.mark.parametrize("train", PUBLISHED["trains"], ids=lambda train: train["what"])
def test_gear_trains_in_print(train: dict[str, Any]) -> None:
    meshes = tuple(Mesh(wheel=wheel, pinion=pinion) for wheel, pinion in train["pairs"])
    assert Train(meshes=meshes).ratio * train["times"] == pytest.approx(train["printed"])


def test_hours_in_print_are_turns_times_hours_per_turn() -> None:
    hours = PUBLISHED["hours"]
    thickness = eq.thickness_for_turns(11.0, 11 / 3, hours["turns"])
    found = GivenSpring(
        thickness=exact("found.thickness", thickness),
        length=exact("found.length", eq.half_area_length(11.0, 11 / 3, thickness)),
    )
    inputs = healthy(
        bore=exact("bore", 11.0),
        arbor=exact("arbor", 11 / 3),
        found=found,
        hours_per_turn=hours["hours_per_turn"],
    )
    result = size_spring(inputs, draws=1000)
    assert result.found is not None
    assert result.found.figures.hours is not None
    assert result.found.figures.hours.value == pytest.approx(hours["printed"])
