"""Readings told apart by a scatter known beforehand. The readings are invented."""

from __future__ import annotations

import math
import random
from statistics import median

import pytest
from scipy import stats

from gaugelink.statistics.known_scatter import (
    AGREEING,
    ALPHA,
    MOST_APART,
    NONE_SHOWN,
    SHOWN_ALPHA,
    ShownScatter,
    apart_from_known,
    range_quantile,
    shown_by,
    shown_critical,
)
from gaugelink.statistics.moments import Side

SCATTER = 0.01
STEADY = ShownScatter(std=0.004, dof=4.0)


def indices(
    values: list[float],
    side: Side = Side.EITHER,
    scatter: float = SCATTER,
    others: ShownScatter = STEADY,
) -> list[int]:
    return [s.index for s in apart_from_known(values, scatter, side, others=others)]


APART = [
    ([12.00, 12.01, 12.50, 12.00, 12.30], [2, 4]),
    ([12.00, 12.01, 12.50, 12.00, 11.70], [2, 4]),  # one on each side
    ([12.00, 12.01, 12.00, 12.06, 12.01], [3]),
    ([12.00, 12.01, 12.00, 12.04, 12.01], []),  # 3.4 sigma of the difference
    ([12.00, 12.00, 12.00, 12.00, 12.00], []),
    ([12.00, 12.05, 12.10, 12.15, 12.60], []),  # the rest scatters by more than is known
    ([12.00, 12.30, 12.60, 12.90, 12.00], []),  # two agree, and two are not half
    ([12.00, 12.00, 12.01, 12.50, 11.70, 12.90], []),  # of six, four must be left
    ([12.00, 12.00, 12.01, 12.01, 12.50, 11.70, 12.90, 11.20], [6, 7, 4, 5]),  # half, each alone
    ([12.00, 12.00, 12.01, 12.01, 12.50, 12.50, 12.51, 12.50], []),  # two halves: which?
    ([12.00, 12.01, 12.01, 12.50, 12.50], []),  # two that confirm each other
    ([12.00, 12.01, 12.01, 12.50, 12.52], [4, 3]),
    ([12.00, 12.00, 12.01, 12.01, 12.01, 12.50, 12.51, 11.60], [6, 5, 7]),  # chance, of three
    ([12.00, 12.00, 12.01, 12.01, 12.01, 12.50, 12.51, 12.51, 11.60], []),  # three confirm
    ([12.00, 12.01, 12.80], []),  # three must be left
]


@pytest.mark.parametrize(("values", "expected"), APART)
def test_which_are_apart(values: list[float], expected: list[int]) -> None:
    assert indices(values) == expected


def test_the_statistic_is_the_distance_in_known_standard_deviations() -> None:
    (suspect,) = apart_from_known([12.00, 12.00, 12.00, 12.00, 12.10], 0.01, Side.EITHER)
    assert suspect.statistic == pytest.approx(10.0 / 1.25**0.5)
    assert suspect.critical_value == pytest.approx(3.719, abs=1e-3)  # z(1 - 0.001 / 10), any table


def test_a_sweep_errs_to_one_side() -> None:
    values = [12.00, 12.01, 12.50, 12.00, 12.01]
    assert indices(values, Side.HIGH) == [2]
    assert indices(values, Side.LOW) == []
    (one_sided,) = apart_from_known(values, SCATTER, Side.HIGH, others=STEADY)
    (two_sided,) = apart_from_known(values, SCATTER, Side.EITHER, others=STEADY)
    assert one_sided.critical_value < two_sided.critical_value


def test_what_is_known_decides() -> None:
    values = [12.00, 12.01, 12.00, 12.06, 12.01]
    assert indices(values, scatter=0.01) == [3]
    assert indices(values, scatter=0.03) == []
    assert indices(values, scatter=0.002) == []  # not even the rest keeps to it


@pytest.mark.parametrize("n", [5, 8, 12])
@pytest.mark.parametrize("shake", [1.0, 2.0, 3.0, 6.0])
def test_a_clean_hand_of_any_scatter_sets_off_few_false_alarms(n: int, shake: float) -> None:
    """The three levels together are 0.3 %: 0.1 % for one, 0.2 % for more."""
    rng = random.Random(n)
    trials = 2000
    series = ([rng.gauss(0.0, shake) for _ in range(n)] for _ in range(trials))
    alarms = sum(bool(apart_from_known(values, 1.0, Side.EITHER)) for values in series)
    assert alarms / trials < 0.003 + 4.0 * math.sqrt(0.003 / trials)


def test_two_of_five_by_what_is_shown() -> None:
    """The rest of three shows next to nothing alone; with a steady hand in the job it does."""
    values = [12.00, 12.01, 12.00, 12.12, 11.86]
    assert indices(values) == [4, 3]
    assert indices(values, others=NONE_SHOWN) == []
    assert indices(values, others=ShownScatter(std=0.03, dof=4.0)) == []


def test_what_the_rest_shows_of_one_apart_is_the_test_of_grubbs() -> None:
    assert shown_critical(7, 1, 2, 5.0) == pytest.approx(stats.t.isf(ALPHA / 14, 5), rel=1e-4)
    assert shown_critical(7, 1, 1, 5.0) == pytest.approx(stats.t.isf(ALPHA / 7, 5), rel=1e-4)


def test_the_critical_distance_of_two_against_simulation() -> None:
    """Two normal values beyond q s at once: C(8, 2) times that is the level of its number."""
    rng = random.Random(4)
    q = shown_critical(8, 2, 2, 5.0) / 2.0  # nearer, so that it happens often enough to count
    trials = 20_000
    both = 0
    for _ in range(trials):
        s = math.sqrt(sum(rng.gauss(0.0, 1.0) ** 2 for _ in range(5)) / 5.0)
        both += min(abs(rng.gauss(0.0, 1.0)), abs(rng.gauss(0.0, 1.0))) > q * s
    exact = stats.chi2.expect(
        lambda x: (2.0 * stats.norm.sf(q * math.sqrt(x / 5.0))) ** 2, args=(5,)
    )
    assert both / trials == pytest.approx(exact, abs=4.0 * math.sqrt(exact / trials))
    at_level = stats.chi2.expect(
        lambda x: (2.0 * stats.norm.sf(2.0 * q * math.sqrt(x / 5.0))) ** 2, args=(5,)
    )
    assert 28 * at_level == pytest.approx(SHOWN_ALPHA / 3, rel=1e-3)


@pytest.mark.parametrize("share", [0.0, 0.2])
def test_other_series_show_the_scatter_with_a_fifth_of_them_wrong(share: float) -> None:
    rng = random.Random(9)
    found = []
    for _ in range(400):
        others = [
            [rng.gauss(5.0, 0.01) + (0.2 if rng.random() < share else 0.0) for _ in range(5)]
            for _ in range(3)
        ]
        found.append(shown_by(others, 0.0001).std)
    assert 0.009 < median(found) < (0.018 if share else 0.0115)


def test_no_other_series_shows_nothing_and_equal_ones_hide_their_step() -> None:
    assert shown_by([], 0.01) == NONE_SHOWN
    assert shown_by([[5.0]], 0.01) == NONE_SHOWN
    assert shown_by([[5.0] * 5], 0.01).std == pytest.approx(0.01 / math.sqrt(12))


@pytest.mark.parametrize("scatter", [0.01, 0.03])
def test_a_long_series_needs_no_more_critical_values(
    scatter: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each is a dozen integrals, which is what takes the time."""
    asked: list[int] = []

    def counted(p: float, n: int) -> float:
        asked.append(n)
        return range_quantile(p, n)

    monkeypatch.setattr("gaugelink.statistics.known_scatter.range_quantile", counted)
    rng = random.Random(6)
    for n in (20, 100, 800):
        asked.clear()
        wrong = [rng.choice([-0.3, 0.3]) for _ in range(n // 5)]
        values = [rng.gauss(0.0, scatter) + off for off in (wrong + [0.0] * n)[:n]]
        apart_from_known(values, SCATTER, Side.EITHER)
        assert len(set(asked)) <= MOST_APART + 4


def test_the_rest_keeps_to_the_scatter_in_most_series() -> None:
    rng = random.Random(1)
    limit = range_quantile(AGREEING, 5)
    trials = 2000
    kept = 0
    for _ in range(trials):
        values = [rng.gauss(0.0, 1.0) for _ in range(5)]
        kept += max(values) - min(values) <= limit
        found = apart_from_known([*values, 90.0], 1.0, Side.EITHER)
        assert (5 in [s.index for s in found]) >= (max(values) - min(values) <= limit)
    assert kept / trials == pytest.approx(AGREEING, abs=0.03)
