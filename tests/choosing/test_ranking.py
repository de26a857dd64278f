"""Properties that any ranking must have, whatever the numbers in its score."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from choosing_bench import DOCUMENTED, EXACT, barrel, given, job, spring, trade_range
from examples import examples
from hypothesis import given as drawn
from hypothesis import settings
from hypothesis import strategies as st

from gaugelink.choosing.case import prepare
from gaugelink.choosing.loss import Part
from gaugelink.choosing.ranking import rank, weigh
from gaugelink.choosing.springs import Grade
from gaugelink.choosing.state import ChoosingInputs
from gaugelink.mechanics.arrangement import Arrangement, Winding
from gaugelink.mechanics.materials import end_named, material_named, shipped_materials
from gaugelink.mechanics.motion import MeasuredAmplitude
from gaugelink.sizing.inputs import GivenSpring
from gaugelink.stock.stock_spring import StockSpring

SPRINGS = st.builds(
    spring,
    st.integers(90, 160).map(lambda n: n / 1000),
    st.integers(26, 33).map(lambda n: n / 20),
    st.integers(25, 60).map(lambda n: 10.0 * n),
)
STOCKS = st.lists(SPRINGS, min_size=1, max_size=12, unique_by=lambda each: each.item)


def items(inputs: ChoosingInputs, stock: list[StockSpring]) -> list[str]:
    return [stock[i].item for i in rank(prepare(inputs, stock)).order]


@settings(max_examples=examples(60), deadline=None)
@drawn(STOCKS, st.randoms(use_true_random=False))
def test_the_order_of_the_list_does_not_matter(stock: list[StockSpring], at: random.Random) -> None:
    shuffled = at.sample(stock, len(stock))
    inputs = job(documented=DOCUMENTED)
    assert items(inputs, stock) == items(inputs, shuffled)


@settings(max_examples=examples(60), deadline=None)
@drawn(STOCKS, SPRINGS)
def test_another_spring_changes_nothing_among_the_rest(
    stock: list[StockSpring], other: StockSpring
) -> None:
    other = replace(other, item="another")
    inputs = job(documented=DOCUMENTED)
    with_other = items(inputs, [*stock, other])
    assert [item for item in with_other if item != "another"] == items(inputs, stock)


@settings(max_examples=examples(60), deadline=None)
@drawn(STOCKS, st.floats(0.001, 0.02))
def test_a_spring_worse_in_everything_is_never_before(
    stock: list[StockSpring], by_mm: float
) -> None:
    """Too strong and too strong by more: the thinner twin stays ahead."""
    inputs = job(documented=given(0.10, 1.3, 350.0))
    for each in stock:
        strong = each.thickness_mm > 0.105 and each.height_mm >= 1.3
        if strong and items(inputs, [each]):  # a thicker one may fill enough where it does not
            twin = replace(each, item="twin", thickness_mm=each.thickness_mm + by_mm)
            found = items(inputs, [twin, each])
            assert "twin" not in found[:1]


def test_of_two_alike_the_thinner_is_first() -> None:
    """Half a step either side of the documented thickness: common practice takes the thinner."""
    reference = given(0.125, 1.5, 340.0)
    stock = [spring(0.13), spring(0.12)]
    for order in (stock, stock[::-1]):
        assert items(job(documented=reference), order)[0] == "1.5 x 0.12 x 350"


def weak(points: float, thickness: float, item: str) -> StockSpring:
    """Return a spring of exact size that is too weak by so many points; 0.12 x 1.5 is right."""
    height = 1.5 * math.exp(-points / 100) / (thickness / 0.12) ** 2.5
    exact = {f"{size}_tolerance_mm": 0.0 for size in ("height", "thickness", "length")}
    return spring(thickness, height, item=item, **exact)


@pytest.mark.parametrize(("points", "first"), [(4.04, "thin"), (4.06, "thick")])
def test_scores_count_in_steps_of_a_tenth_of_a_point(points: float, first: str) -> None:
    """4.00 and 4.04 are both 4.0, and 4.06 is 4.1: of two alike the thinner is first."""
    stock = [weak(4.0, 0.12, "thick"), weak(points, 0.119, "thin")]
    assert items(job(documented=DOCUMENTED, u=EXACT), stock)[0] == first


def test_of_two_as_thick_the_one_nearer_to_the_target_is_first() -> None:
    stock = [spring(0.12, length=365.0, item="a"), spring(0.12, length=350.0, item="b")]
    assert items(job(documented=DOCUMENTED), stock) == ["b", "a"]


def test_two_that_score_the_same_are_told_apart_by_thickness_and_then_by_name() -> None:
    for names in (("c", "a", "b"), ("b", "a")):
        twins = [spring(0.12, item=name) for name in names]
        assert items(job(documented=DOCUMENTED), twins) == sorted(names)


@pytest.mark.parametrize(
    ("better", "worse", "why"),
    [
        (spring(0.12, 1.45), spring(0.12, 1.40), "up to 0.1 mm below is fine, nearer is better"),
        (spring(0.12, 1.40), spring(0.12, 1.25), "far below the coils tip"),
        (spring(0.12), spring(0.125), "nearest thickness"),
        (spring(0.115), spring(0.105), "nearest thickness"),
        (spring(0.12, length=350.0), spring(0.12, length=270.0), "length within a tenth"),
        (spring(0.12, length=420.0), spring(0.12, length=270.0), "rather longer than shorter"),
        (spring(0.12, length=500.0), spring(0.12, length=240.0), "a longer one can be cut"),
        (spring(0.12, 1.40), spring(0.13, 1.5), "height within 0.1 mm before thickness"),
    ],
)
def test_the_order_of_preference_of_the_trade(
    better: StockSpring, worse: StockSpring, why: str
) -> None:
    # Common practice: height, then thickness, then length, then end and alloy.
    inputs = job(documented=DOCUMENTED, u=EXACT)
    assert items(inputs, [worse, better])[0] == better.item, why


@pytest.mark.parametrize("name", ["carbon-steel", "cobalt-nickel"])
def test_blued_steel_costs_only_in_place_of_an_alloy(name: str) -> None:
    stock = [
        spring(0.12, item="alloy", material="cobalt-nickel"),
        spring(0.12, item="steel", material="carbon-steel"),
    ]
    inputs = job(documented=DOCUMENTED, material=material_named(name), hours_per_turn=5.0)
    ranking = rank(prepare(inputs, stock))
    score = dict(zip([stock[i].item for i in ranking.order], ranking.scores, strict=True))
    if name == "cobalt-nickel":
        assert score["steel"] > score["alloy"] + 4.9
    else:
        assert score["steel"] < score["alloy"] + 5.0


@pytest.mark.parametrize(
    ("height", "thickness", "length", "points"),
    [
        (1.50, 0.12, 350.0, {}),
        (1.52, 0.12, 350.0, {Part.HIGH: 4.0, Part.STRONG: 110 * math.log(1.52 / 1.50)}),
        (1.42, 0.12, 350.0, {Part.WEAK: 100 * math.log(1.50 / 1.42)}),
        (1.40, 0.12, 350.0, {Part.LOW: 1.0, Part.WEAK: 100 * math.log(1.50 / 1.40)}),
        (1.50, 0.125, 340.0, {Part.STRONG: 275 * math.log(0.125 / 0.12)}),
        (1.50, 0.12, 300.0, {Part.SHORT: 50 * math.log(315 / 300)}),  # a tenth below 350 mm
        (1.50, 0.12, 450.0, {Part.LONG: 50 * math.log(450 / 436.35)}),  # 0.62 of the ring
    ],
)
def test_what_an_exact_spring_costs_by_hand(
    height: float, thickness: float, length: float, points: dict[Part, float]
) -> None:
    """Beside 1.50 x 0.12 x 350 mm, where 1.51 mm fits: points by mm and by unit of ln.

    Only the run is unsure even here, for nobody knows the free shape: it is left out.
    """
    exact = {f"{size}_tolerance_mm": 0.0 for size in ("height", "thickness", "length")}
    stock = [spring(thickness, height, length, **exact)]
    weighed = weigh(prepare(job(documented=DOCUMENTED, u=EXACT), stock), np.arange(1))
    parts = {part: float(each[0]) for part, each in weighed.parts.items() if part is not Part.RUN}
    assert parts == pytest.approx({**dict.fromkeys(parts, 0.0), **points}, abs=2e-3)


def charged(stock: list[StockSpring], **of_barrel: Any) -> list[float]:
    """Points of all charges together, spring by spring."""
    case = prepare(job(**{"documented": DOCUMENTED, **of_barrel}), stock)
    return weigh(case, np.arange(len(stock))).charged.tolist()


@pytest.mark.parametrize(
    ("reference", "points"),
    [("cobalt-nickel", [0, 5, 0, 10]), ("white", [0, 5, 0, 10]), ("carbon-steel", [0, 0, 0, 5])],
)
def test_blued_steel_in_place_of_an_alloy_is_charged_and_what_may_be_it(
    reference: str, points: list[float]
) -> None:
    made_of = ("cobalt-nickel", "carbon-steel", "white", None)
    stock = [spring(0.12, item=f"{name}", material=name) for name in made_of]
    assert charged(stock, material=material_named(reference)) == points


CLASSES = tuple(each.name for each in shipped_materials())


@settings(max_examples=60, deadline=None)
@drawn(
    st.sampled_from((*CLASSES, "white", "open")),
    st.sampled_from((None, 4.0, 6.0, 7.5, 10.0)),
    st.sampled_from((None, 180.0, 240.0, 280.0, 300.0, 312.0)),
    st.sampled_from((None, DOCUMENTED, given(0.13, 1.4, 300.0))),
    SPRINGS,
)
def test_a_material_that_nobody_states_costs_no_less_than_any_that_it_may_be(
    of_watch: str,
    hours: float | None,
    amplitude: float | None,
    documented: GivenSpring | None,
    each: StockSpring,
) -> None:
    """Else it would pay to leave the material out of a list."""
    names = (*CLASSES, "white", None)
    stock = [replace(each, item=f"{name}", material=name) for name in names]
    measured = None if amplitude is None else MeasuredAmplitude(amplitude_deg=amplitude)
    inputs = job(
        documented=documented,
        material=material_named(of_watch),
        hours_per_turn=hours,
        found=given(0.12, 1.45, 350.0, name="found"),
        amplitude=measured,
    )
    *stated, blank = weigh(prepare(inputs, stock), np.arange(len(stock))).score.tolist()
    assert blank >= max(stated)


@pytest.mark.parametrize(
    ("arrangement", "points"),
    [
        (Arrangement(), [0, 0, 0]),
        (Arrangement(end=end_named("hook")), [0, 5, 1]),
        (Arrangement(winding=Winding.AUTOMATIC), [0, 0, 1]),
    ],
)
def test_another_outer_end_is_charged_and_one_that_nobody_knows(
    arrangement: Arrangement, points: list[float]
) -> None:
    ends = ("hook", "tongue", None)
    stock = [spring(0.12, item=f"{end}", end=end, material="stainless") for end in ends]
    assert charged(stock, arrangement=arrangement) == points


def test_a_cut_is_charged() -> None:
    steel = {"material": "carbon-steel"}
    stock = [spring(0.12, item="whole", **steel), spring(0.12, length=600.0, item="cut", **steel)]
    assert charged(stock) == [0, 3]


def test_every_size_of_a_trade_range_is_ranked_or_refused() -> None:
    """Thickness 0.095 to 0.16 and length 300 to 400 mm for an 11 mm barrel: common practice."""
    stock = trade_range()
    assert len(stock) == 154
    case = prepare(ChoosingInputs(barrel=barrel(), strip=Grade.PRECISION), stock)
    ranking = rank(case)
    assert len(ranking.order) + int(case.judged.refused.sum()) == len(stock)
    assert len(ranking.order) > 40
    assert all(score == score for score in ranking.scores)
    assert (ranking.scores[1:] >= ranking.scores[:-1] - 0.1).all()
    first = stock[ranking.order[0]]
    # bore / 87 is 0.126; its half-area length some 330 mm.
    assert (first.thickness_mm, 320 <= first.length_mm <= 400) == (0.125, True)
