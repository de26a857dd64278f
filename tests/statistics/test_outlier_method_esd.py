"""The generalized ESD test against the NIST example and the formula of its page."""

from __future__ import annotations

import math

import pytest
from scipy import stats
from stat_data import load

from gaugelink.statistics.moments import Side
from gaugelink.statistics.outlier_method import (
    Judged,
    esd_steps,
    grubbs_critical,
    significant_groups,
)


def esd_outliers(values: list[float], most: int, alpha: float, side: Side = Side.EITHER) -> Judged:
    return next(significant_groups(esd_steps(values, most, alpha, side)), ())


NIST = load("stat_esd.json")


def test_nist_example_step_by_step() -> None:
    # The page truncates its digits, hence 1e-3; R and lambda from memory.
    steps = esd_steps(NIST["values"], NIST["max_outliers"], NIST["alpha"])
    assert [step.value for step in steps] == [row["removed"] for row in NIST["steps"]]
    for step, row in zip(steps, NIST["steps"], strict=True):
        assert step.statistic == pytest.approx(row["r"], abs=1e-3)
        assert step.critical_value == pytest.approx(row["lambda"], abs=1e-3)
        assert NIST["values"][step.index] == step.value


def test_nist_example_has_three_outliers() -> None:
    found = esd_outliers(NIST["values"], NIST["max_outliers"], NIST["alpha"])
    assert [step.value for step in found] == NIST["outliers"]


def test_stopping_at_the_first_insignificant_step_would_find_none() -> None:
    steps = esd_steps(NIST["values"], NIST["max_outliers"], NIST["alpha"])
    assert [step.exceeds for step in steps[:4]] == [False, False, True, False]
    assert [len(group) for group in significant_groups(steps)] == [3]


@pytest.mark.parametrize("n", [15, 25, 54])
@pytest.mark.parametrize("alpha", [0.05, 0.01])
def test_lambda_is_the_formula_of_the_page(n: int, alpha: float) -> None:
    values = [math.sin(3.0 * i) + (5.0 if i == 4 else 0.0) for i in range(n)]
    for i, step in enumerate(esd_steps(values, 4, alpha), start=1):
        t = stats.t.ppf(1.0 - alpha / (2 * (n - i + 1)), n - i - 1)
        expected = (n - i) * t / math.sqrt((n - i - 1 + t * t) * (n - i + 1))
        assert step.critical_value == pytest.approx(expected, rel=1e-9)


def test_positions_refer_to_the_whole_sample() -> None:
    values = [90.0, *[1.0, 1.1, 1.2] * 5, 80.0]
    found = esd_outliers(values, 3, 0.05)
    assert [(step.index, step.value) for step in found] == [(0, 90.0), (16, 80.0)]


def test_steps_end_when_the_rest_is_equal_or_too_small() -> None:
    assert [step.value for step in esd_steps([5.0] * 9 + [6.0], 4, 0.05)] == [6.0]
    assert esd_steps([5.0] * 9, 4, 0.05) == ()
    assert len(esd_steps([1.0, 2.0, 4.0, 8.0], 4, 0.05)) == 2


def test_no_outlier_in_an_even_row() -> None:
    assert esd_outliers([float(i) for i in range(20)], 4, 0.05) == ()


def test_a_side_takes_values_of_that_side_only_with_one_sided_lambdas() -> None:
    values = [*[12.00, 12.01, 12.02] * 5, 13.0, 11.0, 10.9]
    found = esd_outliers(values, 3, 0.01, Side.LOW)
    assert [step.value for step in found] == [10.9, 11.0]
    assert found[0].critical_value == grubbs_critical(18, 0.01, two_sided=False)
