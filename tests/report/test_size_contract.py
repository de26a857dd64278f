"""``size --json``: every key and type that other programs may rely on."""

from __future__ import annotations

import copy
import functools
import json
from collections.abc import Mapping
from typing import Any

import pytest

from gaugelink.model import GaugeInfo, GaugeKind, Sends, Summary
from gaugelink.report.contract import estimate_json, size_json
from gaugelink.sizing import GivenSpring, SizingInputs, size_spring, typed_input
from gaugelink.uncertainty import Face, Quantity, ZeroCheck, quantity_from_summary

DRAWS = 2_000

# One shape per kind of object. A tuple of types is a choice; a list holds one shape.
NUMBER, MAYBE = float, (float, type(None))
ESTIMATE = {"value": NUMBER, "u": NUMBER, "dof": MAYBE, "unit": str, "low": NUMBER, "high": NUMBER}
MAYBE_ESTIMATE = (ESTIMATE, type(None))
FIGURES = {
    "height": MAYBE_ESTIMATE,
    "thickness": ESTIMATE,
    **dict.fromkeys(("length", "fill", "turns", "turns_spiral"), MAYBE_ESTIMATE),
    **dict.fromkeys(("coils_down", "coils_wound", "hours"), MAYBE_ESTIMATE),
}
RULE = {"rule": str, "basis": str, **FIGURES}
BAND = {"low": NUMBER, "high": NUMBER}
DISTANCE = {"rule": str, "output": str, "difference": NUMBER, "u": NUMBER, "in_u": MAYBE}
COMPARED = {
    **FIGURES,
    "torque_ratio": (BAND, type(None)),
    "torque_at_limit": MAYBE_ESTIMATE,
    "torque_of_equal_shape": MAYBE_ESTIMATE,
    "torque_reference": str,
    "distances": [DISTANCE],
}
BUDGET_ROW = {
    "output": str,
    "input": str,
    "kind": str,
    "u": NUMBER,
    "dof": MAYBE,
    "sensitivity": NUMBER,
    "contribution": NUMBER,
    "share": NUMBER,
}
DISAGREEMENT = {
    "output": str,
    "low_difference": NUMBER,
    "high_difference": NUMBER,
    "tolerance": NUMBER,
}
SIZE = {
    "schema": int,
    "coverage": NUMBER,
    "inputs": Mapping,
    "height": MAYBE_ESTIMATE,
    "rules": [RULE],
    "found": (COMPARED, type(None)),
    "documented": (COMPARED, type(None)),
    "budget": [BUDGET_ROW],
    "warnings": [{"code": str, "text": str}],
    "draws": int,
    "seed": int,
    "disagreements": [DISAGREEMENT],
}


def differences(data: Any, shape: Any, place: str = "$") -> list[str]:
    """Where ``data`` is not of ``shape``; keys must be those of the shape exactly."""
    if isinstance(shape, tuple):
        choices = [differences(data, choice, place) for choice in shape]
        return [] if [] in choices else min(choices, key=len)
    if isinstance(shape, list):
        if not isinstance(data, list):
            return [f"{place} is no list"]
        return [d for i, x in enumerate(data) for d in differences(x, shape[0], f"{place}[{i}]")]
    if isinstance(shape, dict):
        if not isinstance(data, dict) or data.keys() != shape.keys():
            return [f"{place} has keys {sorted(data) if isinstance(data, dict) else data!r}"]
        return [d for key in shape for d in differences(data[key], shape[key], f"{place}.{key}")]
    return [] if isinstance(data, shape) else [f"{place} is {data!r}"]


def measured(measurand: str, mean_mm: float, face: Face) -> Quantity:
    """A measured length, with the degrees of freedom of five readings (invented)."""
    gauge = GaugeInfo(
        gauge_id="caliper",
        kind=GaugeKind.CALIPER,
        sends=Sends.BUTTON,
        address="sim:caliper",
        format="invented",
        mpe_mm=0.02,
        shift_mpe_mm=0.02,
        mpe_source="invented",
    )
    summary = Summary(
        measurand=measurand,
        gauge_id="caliper",
        n_taken=5,
        n_used=5,
        mean_mm=mean_mm,
        mean_all_mm=mean_mm,
        std_mm=0.01,
        spread_mm=0.02,
        u_mean_mm=0.0045,
        dof=4,
        resolution_mm=0.01,
    )
    zero = ZeroCheck(before_mm=0.0, after_mm=0.01, resolution_mm=0.01)
    return quantity_from_summary(summary, gauge, zero, face)


def given(name: str, u_mm: float | None = None) -> GivenSpring:
    return GivenSpring(
        thickness=typed_input(f"{name}.thickness", 0.125, u_mm),
        height=typed_input(f"{name}.height", 1.20, u_mm),
        length=typed_input(f"{name}.length", 340.0, u_mm),
    )


BARREL: dict[str, Any] = {
    "bore": measured("bore", 11.02, Face.INSIDE),
    "depth": measured("depth", 1.64, Face.DEPTH),
    "lid": typed_input("lid", 0.31),
    "arbor": typed_input("arbor", 3.70),
}
CASES: dict[str, SizingInputs] = {
    "bore alone": SizingInputs(bore=typed_input("bore", 11.02)),
    "whole barrel": SizingInputs(**BARREL),
    "both springs": SizingInputs(
        **BARREL, found=given("found"), documented=given("documented"), hours_per_turn=7.5
    ),
    "a spring of unknown length": SizingInputs(
        **BARREL, found=GivenSpring(thickness=typed_input("found.thickness", 0.13))
    ),
    "nothing uncertain": SizingInputs(
        bore=typed_input("bore", 11.02, 0.0),
        arbor=typed_input("arbor", 3.7, 0.0),
        documented=given("documented", 0.0),
        wanted_turns=6.5,
    ),
}


def sized(case: str) -> dict[str, Any]:
    return copy.deepcopy(_sized(case))


@functools.cache
def _sized(case: str) -> dict[str, Any]:
    return size_json(size_spring(CASES[case], draws=DRAWS))


@pytest.mark.parametrize("case", CASES)
def test_the_keys_and_types_are_those_of_the_contract(case: str) -> None:
    data = sized(case)
    assert differences(data, SIZE) == []
    inputs = dict.fromkeys(data["inputs"], ESTIMATE)
    assert differences(data["inputs"], inputs) == []
    assert data["schema"] == 1


@pytest.mark.parametrize("case", CASES)
def test_it_is_json_and_comes_back_bit_for_bit(case: str) -> None:
    data = sized(case)
    assert json.loads(json.dumps(data, allow_nan=False)) == data


def test_inputs_go_by_their_names() -> None:
    assert set(sized("whole barrel")["inputs"]) == {"bore", "depth", "lid", "arbor", "clearance"}
    names = {f"{name}.{size}" for name in ("found", "documented") for size in FIGURES}
    springs = {name for name in sized("both springs")["inputs"] if "." in name}
    assert springs <= names
    assert len(springs) == 6


def test_infinite_degrees_of_freedom_are_null_and_others_numbers() -> None:
    inputs = sized("whole barrel")["inputs"]
    assert inputs["arbor"]["dof"] is None
    # Welch-Satterthwaite: more than the 4 of the readings alone, and finite.
    assert 4.0 < inputs["bore"]["dof"] < 1e6


def test_what_lies_infinitely_many_u_away_is_null() -> None:
    distances = sized("nothing uncertain")["documented"]["distances"]
    beyond = [d for d in distances if d["u"] == 0.0 and d["difference"] != 0.0]
    assert beyond
    assert all(d["in_u"] is None for d in beyond)


def test_what_is_not_known_is_null() -> None:
    alone = sized("bore alone")
    assert (alone["height"], alone["found"], alone["documented"]) == (None, None, None)
    unknown = sized("a spring of unknown length")["found"]
    assert (unknown["length"], unknown["turns"], unknown["fill"]) == (None, None, None)
    assert unknown["torque_ratio"] is not None


def test_hours_are_given_once_hours_per_turn_are_known() -> None:
    rule = sized("both springs")["rules"][0]
    assert rule["hours"]["value"] == pytest.approx(7.5 * rule["turns"]["value"])
    assert rule["hours"]["unit"] == "h"
    assert sized("whole barrel")["rules"][0]["hours"] is None


def test_budget_shares_add_up_and_kinds_are_letters() -> None:
    rows = sized("both springs")["budget"]
    shares: dict[str, float] = {}
    for row in rows:
        shares[row["output"]] = shares.get(row["output"], 0.0) + row["share"]
        assert row["contribution"] == pytest.approx(abs(row["sensitivity"]) * row["u"])
    assert {row["kind"] for row in rows} == {"A", "B"}
    assert {label for label, share in shares.items() if abs(share - 1.0) > 1e-9 and share} == set()


@pytest.mark.parametrize("case", CASES)
def test_every_value_lies_in_its_interval(case: str) -> None:
    data = sized(case)
    estimates = [*data["inputs"].values(), *(rule["thickness"] for rule in data["rules"])]
    for e in estimates:
        rounding = 1e-12 * e["value"]
        assert e["low"] - rounding <= e["value"] <= e["high"] + rounding


def test_an_estimate_is_written_as_it_is() -> None:
    result = size_spring(CASES["whole barrel"], draws=DRAWS)
    height = result.height
    assert height is not None
    assert estimate_json(height) == {
        "value": height.value,
        "u": height.u,
        "dof": height.dof,
        "unit": "mm",
        "low": height.low,
        "high": height.high,
    }


def test_a_missing_key_and_a_wrong_type_would_be_seen() -> None:
    data = sized("both springs")
    del data["rules"][0]["turns"]
    data["budget"][0]["u"] = "0.1"
    data["found"]["torque_ratio"]["low"] = None
    assert len(differences(data, SIZE)) == 3
