from __future__ import annotations

import pytest
from barrels import Barrel, random_barrels
from hypothesis import given

from gaugelink.sizing import rules as eq
from gaugelink.sizing.rules import FIXED_RULES, Rule, rules_for

BY_NAME = {rule.name: rule for rule in rules_for(7.0)}


def _sized(rule: Rule, bore: float, arbor: float) -> tuple[float, float]:
    thickness = rule.thickness(bore, arbor)
    return thickness, rule.length(bore, arbor, thickness)


def test_names_are_stable() -> None:
    assert [rule.name for rule in FIXED_RULES] == [
        "ratio-30",
        "ratio-35",
        "half-area",
        "thirds-run-down",
        "thirds-wound",
    ]
    assert [rule.name for rule in rules_for(6.5)][5:] == ["wanted-turns"]
    assert rules_for(None) == FIXED_RULES


def test_every_basis_names_a_source_or_says_that_there_is_none() -> None:
    for rule in rules_for(7.0):
        assert "no source" in rule.basis or "Roze 1857" in rule.basis
        assert rule.basis.endswith(".")


@pytest.mark.parametrize(
    ("name", "fill"), [("half-area", 0.5), ("thirds-run-down", 0.625), ("thirds-wound", 0.375)]
)
def test_fill_of_each_rule_on_an_arbor_of_a_third(name: str, fill: float) -> None:
    # (1 - 4/9) / (8/9) and (4/9 - 1/9) / (8/9): the third as run-down and as wound band
    thickness, length = _sized(BY_NAME[name], 12.0, 4.0)
    assert eq.fill(12.0, 4.0, thickness, length) == pytest.approx(fill)


@given(random_barrels)
def test_third_is_the_width_of_the_named_band_on_any_arbor(barrel: Barrel) -> None:
    bore, arbor = barrel.bore, barrel.arbor
    thickness, length = _sized(BY_NAME["thirds-run-down"], bore, arbor)
    assert eq.run_down_inner_diameter(bore, thickness, length) == pytest.approx(2 * bore / 3)
    thickness, length = _sized(BY_NAME["thirds-wound"], bore, arbor)
    assert eq.wound_outer_diameter(arbor, thickness, length) == pytest.approx(arbor + bore / 3)


def test_both_readings_of_the_thirds_give_the_same_turns_and_half_area_more() -> None:
    turns = {
        name: eq.development_turns(12.0, 4.0, *_sized(BY_NAME[name], 12.0, 4.0))
        for name in ("thirds-run-down", "thirds-wound", "half-area")
    }
    assert turns["thirds-run-down"] == pytest.approx(turns["thirds-wound"])
    # fixtures/reference/barrel_tables.json, by ring_model.py: 95.2 % of the most turns
    assert turns["thirds-wound"] / turns["half-area"] == pytest.approx(0.952, abs=6e-4)


@given(random_barrels)
def test_wanted_turns_are_given_at_half_area(barrel: Barrel) -> None:
    thickness, length = _sized(BY_NAME["wanted-turns"], barrel.bore, barrel.arbor)
    assert eq.fill(barrel.bore, barrel.arbor, thickness, length) == pytest.approx(0.5)
    turns = eq.development_turns(barrel.bore, barrel.arbor, thickness, length)
    assert turns == pytest.approx(7.0)
