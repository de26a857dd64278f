"""``size --json``: every key and type that other programs may rely on."""

from __future__ import annotations

import copy
import functools
import json
from typing import Any

import pytest
from size_cases import CASES
from size_shapes import ESTIMATE, FIGURES, SIZE, differences

from gaugelink.report.json_sizing import estimate_json, size_json
from gaugelink.sizing.size_spring import size_spring

DRAWS = 2_000


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
    assert set(sized("whole barrel")["inputs"]) == {
        *("bore", "depth", "lid", "arbor", "clearance"),
        *("modulus", "full_wind_stress", "coils_off"),
    }
    names = {f"{name}.{size}" for name in ("found", "documented") for size in FIGURES}
    names |= {f"found.{part}" for part in ("modulus", "healthy_stress", "strength_kept")}
    springs = {name for name in sized("both springs")["inputs"] if "." in name}
    assert springs <= names
    assert len(springs) == 9


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


def test_usable_turns_stand_beside_the_others_and_in_the_mechanics() -> None:
    rule = sized("both springs")["rules"][2]
    assert rule["turns_usable"] == rule["mechanics"]["turns_usable"]
    assert rule["turns_usable"]["value"] < rule["turns"]["value"]
    hours = rule["mechanics"]["hours_usable"]["value"]
    assert hours == pytest.approx(7.5 * rule["turns_usable"]["value"])
    assert rule["mechanics"]["amplitude"] is None


def test_a_whole_watch_has_every_part() -> None:
    data = sized("a whole watch")
    assert data["motion"]["wished_thickness"]["low"] > 0.125
    assert data["documented"]["mechanics"]["amplitude"]["low"] > 0
    assert [m["method"] for m in data["found_length"]["methods"]] == ["mass", "coils on the wall"]
    length = data["found"]["length"]
    assert data["found_length"]["value"] == pytest.approx(length["value"])
    assert data["found_length"]["u"] == pytest.approx(length["u"], rel=0.02)
    assert [q["question"] for q in data["finding"]["questions"]] == [
        *("tired", "wrong one", "original")
    ]
    arrangement = data["arrangement"]
    assert (arrangement["train"], arrangement["hours_per_turn"]) == ("80/10", 8.0)
    assert arrangement["winding_train"] == "54/36 36/16"
    assert (arrangement["end"]["name"], arrangement["material"]["name"]) == ("tongue", "white")


def test_what_is_refused_stands_with_its_reason() -> None:
    data = sized("a fusee")
    assert data["rules"] == []
    (refused,) = data["arrangement"]["refused"]
    assert refused["asked"] == "thickness and length by rule"
    assert data["found"]["torque_ratio"] is None


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
