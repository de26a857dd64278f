"""Two barrels of the trade, common practice without source: barrel_trade_facts.json.

The distances are derived anew with the ``uncertainties`` package.
"""

from __future__ import annotations

from typing import Any

import pytest
from barrels import DRAWS, reference, spring
from uncertainties import ufloat

from gaugelink.sizing.inputs import SizingInputs, typed_input
from gaugelink.sizing.results import RuleDistance, SizeResult
from gaugelink.sizing.size_spring import size_spring

FACTS = reference("trade_facts")
BARRELS = pytest.mark.parametrize("fact", FACTS["barrels"], ids=lambda fact: fact["name"])


def _sized(fact: dict[str, Any]) -> SizeResult:
    u = FACTS["stated_u_mm"]
    documented = fact["documented"]
    inputs = SizingInputs(
        bore=typed_input("bore", fact["bore_mm"], u["bore"]),
        depth=typed_input("depth", fact["depth_mm"], u["depth"]),
        lid=typed_input("lid", fact["lid_mm"], u["lid"]),
        clearance=typed_input("clearance", fact["clearance_mm"]),
        documented=spring(
            "documented",
            documented["thickness_mm"],
            documented["height_mm"],
            documented["length_mm"],
        ),
    )
    return size_spring(inputs, draws=DRAWS)


def _distance(result: SizeResult, rule: str, output: str) -> RuleDistance:
    assert result.documented is not None
    (one,) = (d for d in result.documented.distances if (d.rule, d.output) == (rule, output))
    return one


def _by_rule(result: SizeResult, rule: str) -> tuple[float, float]:
    (figures,) = (r.figures for r in result.rules if r.rule == rule)
    assert figures.length is not None
    return figures.thickness.value, figures.length.value


@BARRELS
def test_rules_give_the_sizes_of_the_trade(fact: dict[str, Any]) -> None:
    result, want = _sized(fact), fact["rule"]
    thickness, length = _by_rule(result, f"ratio-{fact['bores']}")
    assert result.height is not None
    assert result.height.value == pytest.approx(want["height_mm"], abs=1e-9)
    assert round(thickness, 3) == want["thickness_mm"]
    assert length == pytest.approx(want["length_mm"], abs=1e-9)


def test_wrong_arithmetic_in_circulation_is_not_reproduced() -> None:
    (fact,) = (fact for fact in FACTS["barrels"] if "printed_slip" in fact)
    result, slip = _sized(fact), fact["printed_slip"]
    thickness, length = _by_rule(result, f"ratio-{fact['bores']}")
    assert result.height is not None
    assert abs(result.height.value - slip["height_mm"]) > 0.05
    assert round(thickness, 3) != slip["thickness_mm"]
    assert abs(length - slip["length_mm"]) > 50


@BARRELS
def test_distances_of_the_documented_size_agree_with_the_oracle(fact: dict[str, Any]) -> None:
    result, documented, u = _sized(fact), fact["documented"], FACTS["stated_u_mm"]
    bore = ufloat(fact["bore_mm"], u["bore"])
    height = ufloat(fact["depth_mm"], u["depth"]) - ufloat(fact["lid_mm"], u["lid"])
    arbor = bore * ufloat(1 / 3, 0.1 / 3 / 3**0.5)
    thickness = bore / 87
    half_area = 3.141592653589793 * (bore**2 - arbor**2) / (8 * thickness)
    wanted = {
        ("height", "height"): documented["height_mm"] - (height - fact["clearance_mm"]),
        ("half-area", "thickness"): documented["thickness_mm"] - thickness,
        ("ratio-30", "length"): documented["length_mm"] - 30 * bore,
        ("ratio-35", "length"): documented["length_mm"] - 35 * bore,
        ("half-area", "length"): documented["length_mm"] - half_area,
    }
    for (rule, output), want in wanted.items():
        distance = _distance(result, rule, output)
        assert distance.difference == pytest.approx(want.nominal_value, abs=1e-9)
        assert distance.u == pytest.approx(want.std_dev, rel=1e-3)


# What the figures above amount to, in standard uncertainties, by hand:
# 11.0 mm: (0.125 - 11/87) / (0.02/87) = -6.25; (400 - 385) / (35 x 0.02) = 21.4
# 15.5 mm: (2.05 - 1.99) / sqrt(0.02^2 + 0.01^2) = 2.7; (0.196 - 15.5/87) / (0.02/87) = 77.6;
#          (508 - 465) / (30 x 0.02) = 71.7
@pytest.mark.parametrize(
    ("index", "rule", "output", "in_u"),
    [
        (0, "height", "height", 0.0),
        (0, "ratio-35", "thickness", -6.25),
        (0, "ratio-35", "length", 21.4),
        (1, "height", "height", 2.7),
        (1, "ratio-30", "thickness", 77.6),
        (1, "ratio-30", "length", 71.7),
    ],
)
def test_documented_size_lies_this_many_standard_uncertainties_off(
    index: int, rule: str, output: str, in_u: float
) -> None:
    distance = _distance(_sized(FACTS["barrels"][index]), rule, output)
    assert distance.in_u == pytest.approx(in_u, rel=0.01, abs=0.01)


def test_only_the_second_documented_size_is_warned_of_as_too_high() -> None:
    codes = [{w.code for w in _sized(fact).warnings} for fact in FACTS["barrels"]]
    assert ["documented-height" in found for found in codes] == [False, True]
