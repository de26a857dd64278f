"""The closed-form ranking against a slow search over everything in plain Python."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from choosing_bench import DOCUMENTED, SIZES, U, job, spring
from score_oracle import State, Strip, reference_mpa, score

from gaugelink.choosing.case import prepare
from gaugelink.choosing.ranking import TIE, rank, weigh
from gaugelink.stock.stock_spring import StockSpring

STOCK = [
    spring(e, h, length)
    for e in (0.11, 0.12, 0.125, 0.13)
    for h in (1.4, 1.45, 1.5)
    for length in (290.0, 350.0, 410.0)
]
INPUTS = {
    **{name: (SIZES[name], U[name]) for name in SIZES},
    "stress": reference_mpa(),
    "deviate": (0.0, 1.0),
}
UNSTATED = 5.0  # points, where the list does not say what a spring is of


def limit(v: dict[str, float]) -> float:
    return v["depth"] - v["lid"] - 0.10


def by_document(v: dict[str, float]) -> State:
    return State(
        bore=v["bore"],
        arbor=v["arbor"],
        limit=limit(v),
        e_ref=0.12,
        h_ref=1.5,
        length_ref=350.0,
        stress=v["stress"],
        deviate=v["deviate"],
    )


def by_rule(v: dict[str, float]) -> State:
    e = v["bore"] / 87
    return State(
        bore=v["bore"],
        arbor=v["arbor"],
        limit=limit(v),
        e_ref=e,
        h_ref=None,
        length_ref=math.pi * (v["bore"] ** 2 - v["arbor"] ** 2) / (8 * e),
        stress=v["stress"],
        deviate=v["deviate"],
    )


def slow_score(each: StockSpring, state_of: object, zone: object, hours: float | None) -> float:
    strip = Strip(height=each.height_mm, thickness=each.thickness_mm, length=each.length_mm)
    # Strip for watches: 0.02 and 0.002 mm from memory; a hundredth of the length, judgement.
    off = Strip(height=0.02, thickness=0.002, length=0.01 * each.length_mm)
    return score(state_of, INPUTS, strip, off, (zone.low, zone.high), hours)  # type: ignore[arg-type, attr-defined]


@pytest.mark.parametrize("hours", [8.0, None])
@pytest.mark.parametrize("documented", [True, False])
def test_the_ranking_is_that_of_a_slow_search(documented: bool, hours: float | None) -> None:
    given = {"documented": DOCUMENTED} if documented else {}
    case = prepare(job(hours_per_turn=hours, **given), STOCK)
    ranking = rank(case)
    state_of = by_document if documented else by_rule
    slow = {
        each.item: UNSTATED + slow_score(each, state_of, case.zone, hours)
        for i, each in enumerate(STOCK)
        if not case.judged.refused[i]
    }
    assert len(slow) > 15
    assert not case.fitted.cut.any()
    found = {STOCK[i].item: s for i, s in zip(ranking.order, ranking.scores, strict=True)}
    assert found == pytest.approx(slow, rel=2e-3, abs=0.02)
    # The same order, but for scores that are as good as equal.
    in_order = [slow[STOCK[i].item] for i in ranking.order]
    assert all(a < b + TIE for a, b in itertools.pairwise(in_order))


def test_the_score_is_the_sum_of_its_parts_and_charges() -> None:
    case = prepare(job(documented=DOCUMENTED), [spring(0.12, length=700.0), spring(0.13)])
    weighed = weigh(case, np.arange(2))
    assert weighed.charged == pytest.approx([3.0 + UNSTATED, UNSTATED])  # cut, and of what
    parts = sum(weighed.parts.values())
    np.testing.assert_allclose(weighed.score, parts + np.array([3.0 + UNSTATED, UNSTATED]))
