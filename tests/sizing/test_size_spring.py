from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import Any

import pytest
from barrels import DRAWS, exact, healthy, spring

from gaugelink.errors import InputError, SizingError
from gaugelink.recommending.recommend import recommend
from gaugelink.report.text_order import order_text
from gaugelink.sizing.inputs import GivenSpring, SizingInputs, typed_input
from gaugelink.sizing.size_spring import size_spring
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term

BORE_ONLY = SizingInputs(bore=typed_input("bore", 11.0))


def test_bore_alone_gives_every_rule_and_nothing_else() -> None:
    result = size_spring(BORE_ONLY, draws=DRAWS)
    assert [rule.rule for rule in result.rules] == [
        "ratio-30",
        "ratio-35",
        "half-area",
        "thirds-run-down",
        "thirds-wound",
    ]
    assert (result.height, result.found, result.documented) == (None, None, None)
    assert [e.label for e in result.inputs] == [
        *("bore", "arbor", "clearance"),
        *("modulus", "full_wind_stress"),  # what is assumed of the material
        "coils_off",  # and of hub, hook and movement
    ]
    assert all(rule.figures.hours is None for rule in result.rules)


def test_lost_arbor_widens_turns_to_about_12_percent_and_length_hardly() -> None:
    # common practice: +-10 % of the arbor makes -+12 % of the turns and -+2.5 % of the length
    result = size_spring(BORE_ONLY, draws=100_000)
    (figures,) = (rule.figures for rule in result.rules if rule.rule == "half-area")
    assert figures.turns is not None
    assert figures.length is not None
    turns, length = figures.turns, figures.length
    assert (turns.high - turns.low) / 2 / turns.value == pytest.approx(0.12, abs=0.015)
    assert (length.high - length.low) / 2 / length.value == pytest.approx(0.025, abs=0.005)


def test_units_of_the_figures() -> None:
    result = size_spring(healthy(hours_per_turn=8.0), draws=DRAWS)
    assert result.found is not None
    figures = result.found.figures
    units = {
        name: getattr(figures, name).unit
        for name in ("height", "thickness", "length", "fill", "turns", "coils_wound", "hours")
    }
    assert units == {
        "height": "mm",
        "thickness": "mm",
        "length": "mm",
        "fill": "1",
        "turns": "1",
        "coils_wound": "1",
        "hours": "h",
    }


def test_spring_without_a_length_has_its_thickness_and_no_turns() -> None:
    result = size_spring(healthy(found=spring("found", 0.125, 1.2)), draws=DRAWS)
    assert result.found is not None
    figures = result.found.figures
    assert figures.thickness.value == 0.125
    assert (figures.length, figures.fill, figures.turns, figures.coils_down) == (None,) * 4
    assert {d.output for d in result.found.distances} == {"height", "thickness"}


def test_spring_without_a_height_is_not_compared_in_height() -> None:
    result = size_spring(healthy(found=spring("found", 0.125, None, 340.0)), draws=DRAWS)
    assert result.found is not None
    assert result.found.figures.height is None
    assert {d.output for d in result.found.distances} == {"thickness", "length", "fill", "turns"}


THIN = {"documented": spring("documented", 0.120, 1.2, 360.0)}
REFERENCES = [
    ({}, "Against the half-area rule."),
    ({"depth": None}, "Against the half-area rule, heights taken as equal."),
    (
        {"found": spring("found", 0.125)},
        "Against the half-area rule, heights and lengths taken as equal.",
    ),
    (THIN, "Against the documented spring."),
    (
        {**THIN, "found": spring("found", 0.125, 1.2)},
        "Against the documented spring, lengths taken as equal.",
    ),
    (
        {"documented": spring("documented", 0.12)},
        "Against the documented spring, heights and lengths taken as equal.",
    ),
]


@pytest.mark.parametrize(("changes", "text"), REFERENCES)
def test_reference_of_the_torque_is_said(changes: dict[str, Any], text: str) -> None:
    result = size_spring(healthy(**changes), draws=DRAWS)
    assert result.found is not None
    assert result.found.torque_reference == text


@pytest.mark.parametrize(
    ("found", "low", "high"),
    [
        # thicker: the cube of 13/12 is above the square; all else equal
        (spring("found", 0.130, 1.2, 360.0), (13 / 12) ** 2, (13 / 12) ** 3),
        # thinner: the cube is below the square
        (spring("found", 0.115, 1.2, 360.0), (115 / 120) ** 3, (115 / 120) ** 2),
        # longer and lower: the length weakens only the torque of equal shape
        (spring("found", 0.120, 1.1, 400.0), 1.1 / 1.2 * 0.9, 1.1 / 1.2),
        # size unknown beyond the thickness: the rest is taken as equal
        (spring("found", 0.130), (13 / 12) ** 2, (13 / 12) ** 3),
    ],
)
def test_torque_band_by_hand(found: GivenSpring, low: float, high: float) -> None:
    result = size_spring(healthy(found=found, **THIN), draws=DRAWS)
    assert result.found is not None
    assert result.found.torque_ratio is not None
    assert result.found.torque_ratio.low == pytest.approx(low)
    assert result.found.torque_ratio.high == pytest.approx(high)


def test_documented_spring_is_itself_compared_with_the_half_area_rule() -> None:
    result = size_spring(healthy(**THIN), draws=DRAWS)
    assert result.documented is not None
    assert result.documented.torque_reference == "Against the half-area rule."
    assert result.documented.torque_at_limit is not None
    square = 1.2 / 1.23 * (0.120 / (11.0 / 87)) ** 2
    assert result.documented.torque_at_limit.value == pytest.approx(square)


def test_common_gauge_error_cancels_in_the_torque_ratio() -> None:
    micrometer = Term(influence=Influence(label="micrometer error", kind="B", u=0.002))

    def measured(name: str) -> GivenSpring:
        thickness = Quantity(label=name, value=0.12, terms=(micrometer,))
        return GivenSpring(thickness=thickness)

    pair = healthy(found=measured("a"), documented=measured("b"))
    result = size_spring(pair, draws=DRAWS)
    assert result.found is not None
    assert result.found.torque_at_limit is not None
    assert result.found.torque_at_limit.u == pytest.approx(0.0, abs=1e-12)


def test_distance_without_uncertainty_is_infinite_and_signed() -> None:
    inputs = SizingInputs(
        bore=exact("bore", 8.7),
        arbor=exact("arbor", 2.9),
        depth=exact("depth", 1.64),
        lid=exact("lid", 0.31),
        documented=spring("documented", 0.11, 1.23, 250.0),
    )
    result = size_spring(inputs, draws=1000)
    assert result.documented is not None
    away = {(d.rule, d.output): d.in_u for d in result.documented.distances}
    assert away[("ratio-30", "thickness")] == math.inf
    assert away[("ratio-30", "length")] == -math.inf
    assert away[("height", "height")] == 0.0


def test_same_seed_same_result_and_another_seed_another_interval() -> None:
    first, again = (size_spring(healthy(), draws=DRAWS, seed=3) for _ in range(2))
    other = size_spring(healthy(), draws=DRAWS, seed=4)
    assert first == again
    assert first.rules[2].figures.length != other.rules[2].figures.length
    assert (first.seed, first.draws, first.coverage) == (3, DRAWS, 0.95)


def test_wider_coverage_gives_wider_intervals() -> None:
    narrow, wide = (size_spring(healthy(), draws=20_000, coverage=c) for c in (0.68, 0.99))
    assert narrow.height is not None
    assert wide.height is not None
    assert wide.height.low < narrow.height.low < narrow.height.value
    assert wide.height.high > narrow.height.high


def test_budget_names_every_influence_of_the_height() -> None:
    result = size_spring(healthy(), draws=DRAWS)
    shares = {row.influence: row.share for row in result.budget if row.output == "height"}
    assert shares["depth as typed"] == pytest.approx(0.8)  # 0.02^2 against 0.01^2
    assert shares["lid as typed"] == pytest.approx(0.2)
    assert sum(shares.values()) == pytest.approx(1.0)


def test_interval_that_reaches_zero_is_an_error() -> None:
    with pytest.raises(SizingError, match="too uncertain to say what height is"):
        size_spring(healthy(depth=typed_input("depth", 1.64, 0.8)), draws=DRAWS)


def test_rule_without_an_interval_is_left_out_and_the_answer_stays() -> None:
    unsure = SizingInputs(bore=typed_input("bore", 11.0, 0.5), arbor=typed_input("arbor", 4.0, 1.6))
    every = size_spring(unsure, draws=DRAWS)
    gone_by = size_spring(unsure, draws=DRAWS, every_rule=False)
    left = {rule.rule: rule.figures for rule in every.rules}
    assert "thirds-wound" not in left
    assert left["half-area"] == gone_by.rules[0].figures
    (advice,) = (each for each in every.warnings if each.code == "rule-too-uncertain")
    assert "thirds-wound" in advice.text


@pytest.mark.parametrize(
    "inputs",
    [
        pytest.param(BORE_ONLY, id="bore alone"),
        pytest.param(healthy(), id="found spring"),
        pytest.param(healthy(wanted_turns=6.0, hours_per_turn=8.0), id="wanted turns"),
        pytest.param(healthy(documented=spring("documented", 0.13, 1.2, 380)), id="document"),
    ],
)
def test_answer_is_the_same_with_and_without_the_rules_beside_it(inputs: SizingInputs) -> None:
    """So a screen that shows no other rule need not work them out."""
    every = size_spring(inputs, draws=DRAWS)
    quick = size_spring(inputs, draws=DRAWS, every_rule=False)
    assert len(quick.rules) < len(every.rules)
    assert set(quick.rules) <= set(every.rules)
    assert recommend(quick) == recommend(every)
    assert order_text(recommend(quick), quick) == order_text(recommend(every), every)


def test_figure_without_a_value_within_u_is_an_error() -> None:
    found = spring("found", 0.125, 1.2)
    found = replace(found, length=typed_input("found.length", 640.0, 120.0))
    with pytest.raises(SizingError, match=r"found\.turns"):
        size_spring(healthy(found=found), draws=DRAWS)


def test_few_draws_without_a_value_are_warned_of() -> None:
    tails = Influence(label="length", kind="A", u=8.0, shape=Shape.STUDENT, dof=2.0)
    length = Quantity(label="length", value=600.0, terms=(Term(influence=tails),))
    found = replace(spring("found", 0.125, 1.2), length=length)
    result = size_spring(healthy(found=found), draws=20_000)
    (text,) = (w.text for w in result.warnings if w.code == "draws-left-out")
    assert re.search(r"In [1-9]\.\d % of the draws found [a-z ]+ has no value", text)


@pytest.mark.parametrize("wish", [{"coverage": 1.0}, {"draws": 10}, {"seed": -1}])
def test_impossible_evaluation_is_an_input_error(wish: dict[str, Any]) -> None:
    with pytest.raises(InputError):
        size_spring(healthy(), **wish)


def test_wanted_turns_rule_appears_only_when_asked() -> None:
    with_turns = size_spring(healthy(wanted_turns=7.0), draws=DRAWS)
    assert with_turns.rules[-1].rule == "wanted-turns"
    assert "7 turns" in with_turns.rules[-1].basis
    turns = with_turns.rules[-1].figures.turns
    assert turns is not None
    assert turns.value == pytest.approx(7.0)
