from __future__ import annotations

import math
from typing import Any

import pytest
from barrels import exact, healthy

from gaugelink.errors import InputError
from gaugelink.model import DepthReference
from gaugelink.sizing.inputs import (
    GivenSpring,
    SizingInputs,
    assumed_arbor,
    quantities,
    typed_input,
)
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term
from gaugelink.uncertainty.first_order import propagate


def _u(quantity: Quantity) -> float:
    return math.hypot(*(term.factor * term.influence.u for term in quantity.terms))


@pytest.mark.parametrize(
    ("label", "value", "u"),
    [
        ("bore", 11.0, 0.02),
        ("depth", 1.6, 0.02),
        ("lid", 0.3, 0.01),
        ("recess", 0.1, 0.02),
        ("arbor", 3.7, 0.04),
        ("found.thickness", 0.12, 0.0025),
        ("found.height", 1.2, 0.015),
        ("found.length", 350.0, 7.0),
        ("found.mass", 420.0, 1.0),
        ("found.coils", 11.0, 0.25),
        ("found.core_coils", 18.0, 0.25),
        ("found.band_inside", 8.1, 0.05),
        ("found.core", 4.0, 0.02),
        ("found.wound_outside", 6.0, 0.05),
        ("found.free_diameter", 40.0, 0.5),
        ("documented.thickness", 0.12, 0.0),
        ("documented.length", 350.0, 0.0),
        ("clearance", 0.1, 0.0),
    ],
)
def test_default_uncertainty_of_a_typed_value(label: str, value: float, u: float) -> None:
    # common practice, no source
    quantity = typed_input(label, value)
    assert quantity.value == value
    assert _u(quantity) == pytest.approx(u)


def test_stated_uncertainty_replaces_the_default() -> None:
    assert _u(typed_input("bore", 11.0, 0.005)) == pytest.approx(0.005)
    assert _u(typed_input("documented.thickness", 0.12, 0.001)) == pytest.approx(0.001)
    assert typed_input("bore", 11.0, 0.0).terms == ()


def test_typed_value_that_is_no_number_is_an_input_error() -> None:
    with pytest.raises(InputError, match="not a number"):
        typed_input("bore", math.nan)


def test_assumed_arbor_is_a_third_of_the_bore_give_or_take_a_tenth() -> None:
    arbor = assumed_arbor(exact("bore", 12.0))
    (term,) = arbor.terms
    assert arbor.value == pytest.approx(4.0)
    assert term.influence.shape is Shape.RECTANGULAR
    assert term.influence.u * math.sqrt(3) == pytest.approx(0.4)


def test_assumed_arbor_follows_the_bore() -> None:
    caliper = Influence(label="caliper error", kind="B", u=0.03)
    bore = Quantity(label="bore", value=12.0, terms=(Term(influence=caliper, factor=2.0),))
    arbor = assumed_arbor(bore)
    (line,) = propagate(lambda v: {"ratio": v["arbor"] / v["bore"]}, [bore, arbor])
    shares = {row.influence: row.share for row in line.rows}
    assert arbor.terms[0] == Term(influence=caliper, factor=2.0 / 3.0)
    assert shares["caliper error"] == pytest.approx(0.0, abs=1e-9)
    assert line.u == pytest.approx(0.1 / 3 / math.sqrt(3))


def test_quantities_bear_the_labels_of_the_model_and_keep_their_influences() -> None:
    measured = Quantity(
        label="found_thickness",
        value=0.12,
        terms=(Term(influence=Influence(label="micrometer error", kind="B", u=0.001)),),
    )
    inputs = SizingInputs(
        bore=typed_input("bore", 11.0),
        found=GivenSpring(thickness=measured),
    )
    by_label = {quantity.label: quantity for quantity in quantities(inputs)}
    assert list(by_label) == [
        *("bore", "arbor", "clearance", "found.thickness"),
        *("modulus", "full_wind_stress"),
        *("found.modulus", "found.healthy_stress", "found.strength_kept"),
        "coils_off",
    ]
    assert by_label["found.thickness"].terms == measured.terms


@pytest.mark.parametrize(
    ("changes", "known"),
    [
        ({}, True),
        ({"depth": None}, False),
        ({"lid": None}, False),
        ({"lid": None, "depth_reference": DepthReference.SEAT}, True),
        ({"depth": None, "depth_reference": DepthReference.SEAT}, False),
    ],
)
def test_height_needs_depth_and_to_the_rim_the_lid(changes: dict[str, Any], known: bool) -> None:
    assert healthy(**changes).has_height is known
