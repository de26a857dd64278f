"""The trend test against scipy and its exact distribution; when a drift is visible."""

from __future__ import annotations

import math

import pytest
from examples import examples
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats
from stat_data import load

from gaugelink.statistics.drift import DRIFT_ALPHA, drift_mm, trend_score
from gaugelink.statistics.student import normal_quantile

LIMIT = normal_quantile(1.0 - DRIFT_ALPHA / 2.0)


@given(values=st.lists(st.integers(0, 8), min_size=5, max_size=15))
@settings(max_examples=examples(100), deadline=None)
def test_score_has_the_sign_and_numerator_of_kendalls_tau(values: list[int]) -> None:
    assume(len(set(values)) > 1)
    tau = stats.kendalltau(range(len(values)), values).statistic
    score = trend_score([float(x) for x in values])
    # tau-b = S / sqrt(pairs * untied pairs); score = S / sqrt(var S)
    n = len(values)
    counts = [values.count(x) for x in set(values)]
    pairs = n * (n - 1) / 2
    s = tau * math.sqrt(pairs * (pairs - sum(c * (c - 1) / 2 for c in counts)))
    variance = n * (n - 1) * (2 * n + 5) - sum(c * (c - 1) * (2 * c + 5) for c in counts)
    assert score == pytest.approx(s / math.sqrt(variance / 18.0), abs=1e-9)


def inversion_counts(n: int) -> list[int]:
    """Count the orders of n values by their number of inversions."""
    counts = [1]
    for size in range(2, n + 1):
        counts = [sum(counts[max(0, k - size + 1) : k + 1]) for k in range(len(counts) + size - 1)]
    return counts


def order_with(n: int, inversions: int) -> list[float]:
    """Return one order of 0..n-1 with that many inversions."""
    left, order = list(range(n)), []
    for _ in range(n):
        taken = min(inversions, len(left) - 1)
        inversions -= taken
        order.append(float(left.pop(taken)))
    return order


@pytest.mark.parametrize("n", range(5, 31))
def test_exact_false_alarm_is_about_the_nominal_one(n: int) -> None:
    counts = inversion_counts(n)
    assert sum(counts) == math.factorial(n)
    alarms = sum(c for k, c in enumerate(counts) if abs(trend_score(order_with(n, k))) >= LIMIT)
    assert 0.010 < alarms / math.factorial(n) < 0.0211


def test_steady_rise_is_measured_from_first_to_last() -> None:
    for n in range(5, 13):
        rising = [12.0 + 0.02 * i for i in range(n)]
        assert drift_mm(rising, 0.01) == pytest.approx(0.02 * (n - 1))
        assert drift_mm(rising[::-1], 0.01) == pytest.approx(-0.02 * (n - 1))


def test_rise_of_less_than_three_steps_is_not_visible() -> None:
    rising = [12.00] * 5 + [12.01] * 5
    assert trend_score(rising) > LIMIT
    assert drift_mm(rising, 0.01) is None


@pytest.mark.parametrize("position", range(8))
def test_one_gross_reading_is_no_drift(position: int) -> None:
    values = [12.01, 12.00, 12.02, 12.01, 12.02, 12.00, 12.01]
    values.insert(position, 13.0)
    assert drift_mm(values, 0.01) is None


def test_one_gross_reading_hides_no_drift() -> None:
    values = [12.00 + 0.02 * i for i in range(10)]
    values[2] = 13.0
    assert drift_mm(values, 0.01) is not None


def test_equal_values_have_no_trend() -> None:
    assert trend_score([12.0] * 6) == 0.0
    assert drift_mm([12.0] * 6, 0.01) is None


def test_michelson_and_mavro_drift_and_the_lottery_does_not() -> None:
    # NIST StRD: certified lag-1 autocorrelation 0.535, 0.938 and -0.121.
    sets = load("stat_strd.json")
    visible = {
        name: drift_mm(sets[name]["values"], sets[name]["digital_step"])
        for name in ("Mavro", "Michelso", "Lottery")
    }
    assert visible["Mavro"] is not None
    assert visible["Michelso"] is not None
    assert visible["Lottery"] is None
