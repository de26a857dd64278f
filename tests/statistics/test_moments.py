"""Mean and standard deviation against the certified values of NIST StRD."""

from __future__ import annotations

import math
import sys
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stat_data import load, strd_values

from gaugelink.statistics.moments import mean, std

STRD = load("stat_strd.json")
LENGTHS = st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=30)


def std_tolerance(entry: dict[str, Any]) -> float:
    """Relative tolerance for s.

    Storing a decimal as a float moves it by up to eps/2 of itself, which moves s by
    up to eps * mean / s relative; the certified value has 15 digits. This admits
    1e-12 for Mavro, 2e-8 for NumAcc4, where even exact arithmetic on the stored
    numbers gives 0.10000000056.
    """
    ratio = abs(float(entry["certified_mean"])) / float(entry["certified_std"])
    return sys.float_info.epsilon * ratio + 5e-15


@pytest.mark.parametrize("entry", STRD.values(), ids=STRD.keys())
def test_mean_is_certified(entry: dict[str, Any]) -> None:
    assert mean(strd_values(entry)) == pytest.approx(float(entry["certified_mean"]), rel=2e-15)


@pytest.mark.parametrize("entry", STRD.values(), ids=STRD.keys())
def test_std_is_certified(entry: dict[str, Any]) -> None:
    expected = pytest.approx(float(entry["certified_std"]), rel=std_tolerance(entry))
    assert std(strd_values(entry)) == expected


def test_one_pass_formula_would_not_be() -> None:
    values = strd_values(STRD["NumAcc4"])
    n = len(values)
    variance = (sum(x * x for x in values) - sum(values) ** 2 / n) / (n - 1)
    assert math.sqrt(abs(variance)) != pytest.approx(0.1, rel=std_tolerance(STRD["NumAcc4"]))


@given(value=st.floats(-1e6, 1e6), n=st.integers(2, 40))
def test_equal_values_have_that_mean_and_no_scatter(value: float, n: int) -> None:
    assert mean([value] * n) == value
    assert std([value] * n) == 0.0


@given(values=LENGTHS, data=st.data())
def test_order_changes_no_bit(values: list[float], data: st.DataObject) -> None:
    shuffled = data.draw(st.permutations(values))
    assert mean(shuffled) == mean(values)
    assert std(shuffled) == std(values)


@given(values=LENGTHS)
def test_mean_lies_between_the_extremes(values: list[float]) -> None:
    slack = 1e-12 * max(map(abs, values))
    assert min(values) - slack <= mean(values) <= max(values) + slack


def test_too_few_values_are_refused() -> None:
    with pytest.raises(ValueError, match="no values"):
        mean([])
    with pytest.raises(ValueError, match="two values"):
        std([1.0])
