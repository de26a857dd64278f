"""Foreseen beside seen: what is compared with what, and when a factor is spoken of."""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest
from scipy.stats import binom

from gaugelink.jobbook.facts import (
    After,
    Amplitude,
    Chosen,
    Fact,
    ForeseenSpan,
    Lay,
    StoredFact,
    WindState,
)
from gaugelink.jobbook.predictions import (
    CONFIDENCE,
    Compared,
    _median_depth,
    compare,
    fittings,
    judge,
)

UP, EDGE = Lay.DIAL_UP, Lay.VERTICAL
FORTY = ForeseenSpan(low=36.0, high=44.0)


def stored(*facts: Fact, job_id: int = 1) -> list[StoredFact]:
    return [
        StoredFact(job_id=job_id, number=number, written_utc="", fact=fact)
        for number, fact in enumerate(facts, start=1)
    ]


def hours(*seen: float, foreseen: ForeseenSpan = FORTY) -> list[Compared]:
    return [Compared(job_id=n, name="hours", foreseen=foreseen, seen=h) for n, h in enumerate(seen)]


def compared(facts: Sequence[StoredFact]) -> list[Compared]:
    return [each for fitting in fittings(facts) for each in compare(fitting)]


def test_a_figure_is_compared_when_it_was_foreseen_and_seen() -> None:
    chosen = Chosen(item="A", hours=FORTY, crown_turns=ForeseenSpan(low=27.0, high=27.0))
    (only,) = compared(stored(chosen, After(hours_run=38.0, noise="none")))
    assert (only.name, only.seen, only.is_inside) == ("hours", 38.0, True)
    assert only.ratio == pytest.approx(0.95)
    both = compared(stored(chosen, After(hours_run=45.0), After(crown_turns=27.0)))
    assert [(c.name, c.is_inside) for c in both] == [("hours", False), ("crown turns", True)]


@pytest.mark.parametrize(
    ("position", "wind", "expected"),
    [
        (UP, WindState.WOUND, 250.0),
        (EDGE, WindState.AFTER_24_H, 210.0),
        (EDGE, None, 220.0),
        (None, None, 220.0),
        (None, WindState.WOUND, 250.0),
        (Lay.DIAL_DOWN, None, None),
    ],
)
def test_an_amplitude_is_compared_with_the_one_read_alike(
    position: Lay | None, wind: WindState | None, expected: float | None
) -> None:
    read = (
        Amplitude(deg=220.0, position=EDGE),
        Amplitude(deg=250.0, position=UP, wind=WindState.WOUND),
        Amplitude(deg=210.0, position=EDGE, wind=WindState.AFTER_24_H),
    )
    chosen = Chosen(
        item="A", amplitude_deg=ForeseenSpan(low=200.0, high=260.0), position=position, wind=wind
    )
    found = [c.seen for c in compared(stored(chosen, After(amplitudes=read)))]
    assert found == ([] if expected is None else [expected])


def test_what_was_seen_belongs_to_the_spring_before_it() -> None:
    facts = stored(
        Chosen(item="A", hours=FORTY),
        After(hours_run=30.0),
        Chosen(item="B", hours=FORTY),
        After(hours_run=41.0),
    )
    assert [(f.chosen.item, f.after.hours_run) for f in fittings(facts) if f.after] == [
        ("A", 30.0),
        ("B", 41.0),
    ]


def test_what_was_written_down_before_the_choice_belongs_to_it() -> None:
    (only,) = compared(stored(After(hours_run=40.0), Chosen(item="A", hours=FORTY)))
    assert only.ratio == 1.0


def test_jobs_are_kept_apart() -> None:
    facts = stored(Chosen(item="A", hours=FORTY)) + stored(After(hours_run=40.0), job_id=2)
    assert compared(facts) == []
    assert [f.after for f in fittings(facts)] == [None]


def test_nothing_foreseen_is_divided_by() -> None:
    zero = Chosen(item="A", hours=ForeseenSpan(low=0.0, high=0.0))
    assert compared(stored(zero, After(hours_run=1.0))) == []


@pytest.mark.parametrize("n", [1, 2, 3, 4])
def test_few_jobs_tell_no_factor(n: int) -> None:
    (only,) = judge(hours(*[38.0] * n))
    assert not only.tells_enough
    assert (only.n, only.median_ratio, only.confidence) == (n, 0.95, 0.0)


def test_the_factor_is_the_median_and_the_share_inside_is_counted() -> None:
    seen = [30.0, 37.0, 37.2, 38.0, 50.0]
    (only,) = judge(hours(*seen))
    assert only.tells_enough
    assert only.median_ratio == pytest.approx(0.93)
    assert (only.n, only.n_inside) == (5, 3)
    assert (only.low_ratio, only.high_ratio) == (0.75, 1.25)
    assert only.confidence == pytest.approx(1 - 2 / 2**5)
    assert only.quarter_ratio == pytest.approx(0.925)


@pytest.mark.parametrize(
    ("n", "depth"), [(5, 0), (8, 1), (10, 1), (15, 3), (20, 5), (100, 41), (9999, 4916)]
)
def test_the_interval_of_the_median_is_that_of_the_sign_test(n: int, depth: int) -> None:
    """The widest depth that keeps the confidence, by the binomial distribution of scipy."""
    surely = [1 - 2 * binom.cdf(d, n, 0.5) for d in range(n // 2)]
    assert _median_depth(n) == (depth, pytest.approx(surely[depth]))
    assert surely[depth] >= CONFIDENCE > surely[depth + 1]


def test_the_interval_holds_the_true_median_as_often_as_it_says() -> None:
    rng, held, trials = random.Random(3), 0, 2000
    for _ in range(trials):
        (found,) = judge(hours(*(40 * rng.lognormvariate(0.0, 0.2) for _ in range(9))))
        held += found.low_ratio <= 1.0 <= found.high_ratio
    assert held / trials == pytest.approx(1 - 2 * 10 / 2**9, abs=0.015)


def test_figures_are_judged_apart() -> None:
    wide = ForeseenSpan(low=200.0, high=300.0)
    mixed = [*hours(40.0), Compared(job_id=1, name="amplitude", foreseen=wide, seen=240.0)]
    assert [(p.name, p.median_ratio) for p in judge(mixed)] == [("hours", 1.0), ("amplitude", 0.96)]
    assert judge([]) == ()
