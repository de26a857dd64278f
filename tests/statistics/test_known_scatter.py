"""Readings told apart by a scatter known beforehand. The readings are invented."""

from __future__ import annotations

import random

import pytest

from gaugelink.statistics.known_scatter import AGREEING, apart_from_known, range_quantile
from gaugelink.statistics.moments import Side

SCATTER = 0.01


def indices(values: list[float], side: Side = Side.EITHER, scatter: float = SCATTER) -> list[int]:
    return [suspect.index for suspect in apart_from_known(values, scatter, side)]


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
    (one_sided,) = apart_from_known(values, SCATTER, Side.HIGH)
    (two_sided,) = apart_from_known(values, SCATTER, Side.EITHER)
    assert one_sided.critical_value < two_sided.critical_value


def test_what_is_known_decides() -> None:
    values = [12.00, 12.01, 12.00, 12.06, 12.01]
    assert indices(values, scatter=0.01) == [3]
    assert indices(values, scatter=0.03) == []
    assert indices(values, scatter=0.002) == []  # not even the rest keeps to it


@pytest.mark.parametrize("n", [5, 8, 12])
def test_false_alarms_are_fewer_than_one_series_in_a_thousand(n: int) -> None:
    rng = random.Random(n)
    trials = 4000
    series = ([rng.gauss(0.0, 1.0) for _ in range(n)] for _ in range(trials))
    alarms = sum(bool(apart_from_known(values, 1.0, Side.EITHER)) for values in series)
    assert alarms <= 10  # 4 expected at most


def test_the_rest_keeps_to_the_scatter_in_most_series() -> None:
    rng = random.Random(1)
    limit = range_quantile(AGREEING, 5)
    trials = 2000
    kept = 0
    for _ in range(trials):
        values = [rng.gauss(0.0, 1.0) for _ in range(5)]
        kept += max(values) - min(values) <= limit
        found = apart_from_known([*values, 30.0], 1.0, Side.EITHER)
        assert (5 in [s.index for s in found]) >= (max(values) - min(values) <= limit)
    assert kept / trials == pytest.approx(AGREEING, abs=0.03)
