"""Dixon's ratios: which one, which end, and critical values against table and closed form."""

from __future__ import annotations

import math
import random

import pytest
from stat_data import load

from gaugelink.statistics.moments import Side
from gaugelink.statistics.outlier_method import (
    MOST_VALUES,
    DixonRatio,
    dixon_critical,
    dixon_ratio,
    dixon_suspect,
)

TABLE = load("dixon_critical.json")
ALPHAS = TABLE["one_sided_alpha"]
RATIOS = {
    r.name: r
    for near, far in ((1, 0), (1, 1), (2, 1), (2, 2))
    for r in [DixonRatio(near=near, far=far)]
}
AT_THE_DESK = [(7, "r10"), (10, "r11"), (13, "r21"), (15, "r22")]  # each ratio where it is used
CELLS = [
    pytest.param(*cell, marks=() if cell in AT_THE_DESK else pytest.mark.campaign)
    for row in TABLE["rows"]
    for cell in [(row["n"], name) for name in RATIOS if name in row]
]


def critical(n: int, alpha: float, name: str) -> float:
    return dixon_critical(n, alpha, two_sided=False, ratio=RATIOS[name])


@pytest.mark.parametrize(("n", "name"), CELLS)
def test_critical_values_are_those_of_the_table(n: int, name: str) -> None:
    printed = next(row[name] for row in TABLE["rows"] if row["n"] == n)
    recommended = dixon_ratio(n).name == name
    for alpha, value in zip(ALPHAS, printed, strict=True):
        assert critical(n, alpha, name) == pytest.approx(value, abs=0.005 if recommended else 0.020)


@pytest.mark.parametrize(
    "cell", TABLE["simulated"]["cells"], ids=lambda c: f"{c['ratio']}-{c['n']}"
)
def test_critical_values_are_those_of_a_simulation(cell: dict[str, object]) -> None:
    # A million samples leave four standard deviations of 0.001 to 0.002 at 1 %.
    for alpha, value in zip(ALPHAS, cell["critical"], strict=True):
        assert critical(int(cell["n"]), alpha, str(cell["ratio"])) == pytest.approx(value, abs=2e-3)


@pytest.mark.parametrize("alpha", [0.05, 0.025, 0.01, 0.001])
def test_three_values_have_a_closed_form(alpha: float) -> None:
    # Three normal deviations point in a uniformly distributed direction of a plane, whose
    # angle theta in a sector of 60 degrees gives 1 - r10 = sin theta / cos(theta - 30 deg).
    theta = alpha * math.pi / 3.0
    expected = 1.0 - math.sin(theta) / math.cos(theta - math.pi / 6.0)
    assert dixon_critical(3, alpha, two_sided=False) == pytest.approx(expected, abs=1e-7)


@pytest.mark.parametrize("n", [5, 9, 12, 20])
def test_two_sided_takes_half_the_level_at_each_end(n: int) -> None:
    assert dixon_critical(n, 0.05) == dixon_critical(n, 0.025, two_sided=False)
    assert dixon_critical(n, 0.05) > dixon_critical(n, 0.05, two_sided=False) + 0.03


@pytest.mark.parametrize("n", [5, 9, 12, 20])
def test_two_sided_false_alarm_is_at_most_the_level(n: int) -> None:
    rng = random.Random(n)
    limit, trials = dixon_critical(n, 0.05), 8000
    alarms = 0
    for _ in range(trials):
        suspect = dixon_suspect([rng.gauss(0.0, 1.0) for _ in range(n)])
        alarms += suspect is not None and suspect.statistic > limit
    assert 0.04 < alarms / trials < 0.06  # four standard deviations of 0.05 are 0.01


def test_ratio_follows_the_number_of_values() -> None:
    names = {n: dixon_ratio(n).name for n in range(3, MOST_VALUES + 1)}
    assert [names[n] for n in (3, 7, 8, 10, 11, 13, 14, 30)] == [
        *("r10", "r10", "r11", "r11", "r21", "r21", "r22", "r22")
    ]


# By hand: gap over the range that each ratio looks at, at the high and at the low end.
BY_HAND = [
    ([1.0, 2.0, 3.0, 4.0, 9.0], 4, 5.0 / 8.0),
    ([9.0, 8.0, 7.0, 6.0, 1.0], 4, 5.0 / 8.0),
    ([0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 16.0], 7, 10.0 / 15.0),
    ([*map(float, range(10)), 29.0], 10, 21.0 / 28.0),
    ([*map(float, range(13)), 42.0], 13, 31.0 / 40.0),
]


@pytest.mark.parametrize(("values", "index", "statistic"), BY_HAND)
def test_ratio_by_hand(values: list[float], index: int, statistic: float) -> None:
    suspect = dixon_suspect(values)
    assert suspect is not None
    assert (suspect.index, suspect.value) == (index, values[index])
    assert suspect.statistic == pytest.approx(statistic)


def test_nist_uranium_example() -> None:
    nist = load("stat_grubbs.json")
    upper = dixon_suspect(nist["values"], Side.HIGH)
    assert upper is not None
    assert upper.value == nist["outlier"]
    assert upper.statistic == pytest.approx(0.94244136, abs=1e-8)  # r11, computed by hand


def test_a_side_looks_at_its_own_end_only() -> None:
    values = [1.0, 2.0, 3.0, 4.0, 9.0]
    low, high = dixon_suspect(values, Side.LOW), dixon_suspect(values, Side.HIGH)
    assert low is not None
    assert high is not None
    assert (low.index, high.index) == (0, 4)
    assert low.statistic == pytest.approx(1.0 / 8.0)


def test_equal_values_have_no_ratio() -> None:
    assert dixon_suspect([12.0] * 7) is None
    assert dixon_suspect([12.0] * 9 + [12.5]) is not None


def test_impossible_arguments_are_refused() -> None:
    for n in (2, 31):
        with pytest.raises(ValueError, match="3 to 30"):
            dixon_ratio(n)
    with pytest.raises(ValueError, match="significance"):
        dixon_critical(7, 0.0)
    with pytest.raises(ValueError, match="r22 needs more"):
        dixon_critical(5, 0.05, ratio=DixonRatio(near=2, far=2))
