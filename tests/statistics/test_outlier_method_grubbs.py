"""Grubbs' test against the NIST example, the ASTM and ISO tables and its own bounds."""

from __future__ import annotations

import math

import pytest
from stat_data import load

from gaugelink.statistics.moments import Side
from gaugelink.statistics.outlier_method import grubbs_critical, most_extreme

NIST = load("stat_grubbs.json")
TABLES = load("stat_grubbs_tables.json")


def test_nist_example_finds_its_outlier() -> None:
    suspect = most_extreme(NIST["values"])
    assert suspect is not None
    assert suspect.value == NIST["outlier"]
    assert NIST["values"][suspect.index] == NIST["outlier"]
    assert suspect.statistic == pytest.approx(NIST["statistic"], abs=1e-4)
    one_sided = grubbs_critical(8, 0.05, two_sided=False)
    assert one_sided == pytest.approx(NIST["critical_one_sided_5_percent"], abs=5e-4)
    assert suspect.statistic > one_sided


def test_tietjen_moore_data_show_one_of_their_two_outliers() -> None:
    data = load("stat_tietjen_moore.json")
    recomputed = data["recomputed"]
    suspect = most_extreme(data["values"])
    assert suspect is not None
    assert suspect.value == data["outliers"][0]
    assert suspect.statistic == pytest.approx(recomputed["grubbs"], abs=1e-6)
    for two_sided, name in ((True, "two"), (False, "one")):
        critical = grubbs_critical(15, 0.05, two_sided=two_sided)
        assert critical == pytest.approx(recomputed[f"grubbs_{name}_sided_5_percent"], abs=1e-6)
        assert suspect.statistic > critical
    rest = most_extreme([x for x in data["values"] if x != suspect.value])
    assert rest is not None
    assert rest.value == data["outliers"][1]
    assert rest.statistic < grubbs_critical(14, 0.05)


@pytest.mark.parametrize("side", [Side.LOW, Side.HIGH])
def test_a_side_finds_the_extreme_of_that_side(side: Side) -> None:
    suspect = most_extreme([1.0, 4.0, 5.0, 6.0, 5.0], side)
    assert suspect is not None
    assert suspect.value == (1.0 if side is Side.LOW else 6.0)
    # s^2 = 14.8 / 4, mean 4.2
    assert suspect.statistic == pytest.approx(abs(suspect.value - 4.2) / math.sqrt(3.7))


COLUMNS = [
    ("e178_5", 0.05, False),
    ("e178_1", 0.01, False),
    ("iso_5", 0.05, True),
    ("iso_1", 0.01, True),
]


@pytest.mark.parametrize(("column", "alpha", "two_sided"), COLUMNS)
def test_critical_values_are_those_of_the_tables(
    column: str, alpha: float, two_sided: bool
) -> None:
    for row in TABLES["rows"]:
        critical = grubbs_critical(row["n"], alpha, two_sided=two_sided)
        assert critical == pytest.approx(row[column], abs=2e-3), row["n"]


def test_table_covers_three_to_twenty_values() -> None:
    assert [row["n"] for row in TABLES["rows"]] == list(range(3, 21))


@pytest.mark.parametrize("n", range(3, 31))
def test_critical_value_stays_below_the_largest_possible_statistic(n: int) -> None:
    assert grubbs_critical(n, 0.05) < grubbs_critical(n, 0.01) < (n - 1) / math.sqrt(n)


@pytest.mark.parametrize("n", range(4, 15))
def test_one_digit_off_always_passes_the_bare_test(n: int) -> None:
    # Why the treatment also counts display steps.
    suspect = most_extreme([12.00] * (n - 1) + [12.01])
    assert suspect is not None
    assert suspect.statistic == pytest.approx((n - 1) / math.sqrt(n), rel=1e-9)
    assert suspect.statistic > grubbs_critical(n, 0.01)


@pytest.mark.parametrize("values", [[], [1.0], [1.0, 9.0], [0.1] * 7])
def test_nothing_is_extreme_in_too_few_or_equal_values(values: list[float]) -> None:
    assert most_extreme(values) is None


def test_of_two_values_equally_far_the_larger_is_taken() -> None:
    for values in ([-4.0, 0.0, 0.0, 4.0], [4.0, 0.0, 0.0, -4.0]):
        suspect = most_extreme(values)
        assert suspect is not None
        assert suspect.value == 4.0


def test_impossible_arguments_are_refused() -> None:
    with pytest.raises(ValueError, match="needs 3 values"):
        grubbs_critical(2, 0.05)
    for alpha in (0.0, 1.0, math.nan):
        with pytest.raises(ValueError, match="significance"):
            grubbs_critical(8, alpha)
