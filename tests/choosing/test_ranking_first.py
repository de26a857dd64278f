"""The first of a large stock, found without weighing all of it: the same as if all were."""

from __future__ import annotations

import random

import numpy as np
import pytest
from choosing_bench import DOCUMENTED, EXACT, given, job, spring, trade_range
from examples import examples
from hypothesis import given as drawn
from hypothesis import settings
from hypothesis import strategies as st

from gaugelink.choosing import ranking, state
from gaugelink.choosing.case import Case, prepare
from gaugelink.choosing.choose_spring import choose_spring
from gaugelink.choosing.ranking import least_scores, rank, scores_of
from gaugelink.mechanics.materials import material_named
from gaugelink.stock.stock_spring import StockSpring

ENDS = (None, "hook", "tongue")


def invented(n: int, seed: int) -> list[StockSpring]:
    """Return springs of all sorts, many of one size."""
    at = random.Random(seed)
    return [
        spring(
            at.randrange(100, 141, 5) / 1000,
            at.choice((1.3, 1.4, 1.45, 1.5)),
            at.randrange(250, 500, 10),
            item=f"{at.random()}",
            end=at.choice(ENDS),
            thickness_tolerance_mm=at.choice((None, 0.0, 0.006)),
        )
        for _ in range(n)
    ]


def case_of(stock: list[StockSpring], hours_per_turn: float | None = 8.0) -> Case:
    return prepare(job(documented=DOCUMENTED, hours_per_turn=hours_per_turn), stock)


@settings(max_examples=examples(40), deadline=None)
@drawn(st.integers(1, 400), st.integers(0, 10_000), st.integers(1, 60), st.sampled_from((4.0, 8.0)))
def test_the_first_are_those_of_the_whole_ranking(
    n: int, seed: int, first: int, hours: float
) -> None:
    case = case_of(invented(n, seed), hours)
    whole, part = rank(case), rank(case, first=first)
    assert part.fit == whole.fit == len(whole.order)
    np.testing.assert_array_equal(part.order, whole.order[:first])
    np.testing.assert_array_equal(part.scores, whole.scores[:first])


@pytest.mark.parametrize("hours", [3.0, 8.0, None])
def test_no_score_is_below_its_least(hours: float | None) -> None:
    case = case_of(invented(600, 3), hours)
    at = np.arange(600)
    least, score = least_scores(case, at), scores_of(case, at)
    assert (least <= score + 1e-9).all()
    # Near enough to leave out most of a stock: what the spread of the run costs, no more.
    assert 0.1 < (score - least).max() < 4


def test_a_spring_that_only_looks_better_pushes_none_out() -> None:
    """The run of one is near its limit: its least score is the lower, its score the higher."""
    stock = trade_range(1.4)
    case = case_of(stock, 5.4)
    at = np.flatnonzero(~case.judged.refused)
    least, score = least_scores(case, at), scores_of(case, at)
    crossed = [
        first
        for first in range(1, len(at))
        if set(np.argsort(least)[:first].tolist()) != set(np.argsort(score)[:first].tolist())
    ]
    assert crossed
    whole = rank(case)
    for first in crossed:
        assert rank(case, first=first).order.tolist() == whole.order[:first].tolist()


def test_the_thinner_of_a_tie_is_first_though_its_score_is_the_higher() -> None:
    """250 ln(0.12 / 0.119) is 2.09 points, 275 ln(0.1209 / 0.12) is 2.05: both 21 steps."""
    exact = dict.fromkeys(("height_tolerance_mm", "thickness_tolerance_mm"), 0.0)
    alloy = material_named("cobalt-nickel")
    stock = [spring(e, 1.45, item=f"{e}", material=alloy.name, **exact) for e in (0.1209, 0.119)]
    of_barrel = {"documented": given(0.12, 1.45, 350.0), "u": EXACT, "hours_per_turn": 9.0}
    case = prepare(job(material=alloy, **of_barrel), stock)
    assert scores_of(case, np.arange(2)) == pytest.approx([2.05, 2.09], abs=0.01)
    assert rank(case).order.tolist() == [1, 0]
    assert rank(case, first=1).order.tolist() == [1]


def test_blocks_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    stock = invented(300, 5)
    case, inputs = case_of(stock), job(documented=DOCUMENTED)
    whole, choice = rank(case), choose_spring(inputs, stock, draws=1000)
    monkeypatch.setattr(ranking, "_BLOCK", 7)
    monkeypatch.setattr(state, "_BLOCK", 300)
    small, again = rank(case), choose_spring(inputs, stock, draws=1000)
    np.testing.assert_array_equal(small.order, whole.order)
    np.testing.assert_allclose(small.scores, whole.scores, rtol=1e-13)
    assert again.picks == choice.picks
    assert again.decision == choice.decision
