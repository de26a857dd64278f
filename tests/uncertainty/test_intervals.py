"""Coverage intervals of draws: equal tails and the shortest."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import load, single
from scipy import stats

from gaugelink.uncertainty.coverage import Interval
from gaugelink.uncertainty.evaluate import evaluate
from gaugelink.uncertainty.monte_carlo import simulate

ROWS = st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=60)
COVERAGES = st.floats(0.01, 0.99)


@given(values=ROWS, coverage=COVERAGES)
def test_the_shortest_is_the_narrowest_pair_that_far_apart(
    values: list[float], coverage: float
) -> None:
    ordered = sorted(values)
    q = min(math.floor(coverage * len(values) + 0.5), len(values) - 1)
    widths = [ordered[r + q] - ordered[r] for r in range(len(values) - q)]
    low, high = Interval.SHORTEST.of(np.array(values), coverage)
    assert high - low == min(widths)


@given(values=ROWS, coverage=COVERAGES)
def test_the_shortest_is_never_wider_than_the_symmetric(
    values: list[float], coverage: float
) -> None:
    low, high = Interval.SYMMETRIC.of(np.array(values), coverage)
    narrow_low, narrow_high = Interval.SHORTEST.of(np.array(values), coverage)
    assert narrow_high - narrow_low <= high - low


def test_comparison_loss_at_zero_begins_at_zero() -> None:
    u = load("gum_s1_comparison_loss")["u"]  # JCGM 101, 9.4, x1 = 0: [0, 150] x 1e-6
    inputs = [single("x1", 0.0, u), single("x2", 0.0, u)]
    (loss,) = simulate(
        lambda x: {"loss": x["x1"] ** 2 + x["x2"] ** 2},
        inputs,
        coverage=0.95,
        draws=400_000,
        seed=3,
        interval=Interval.SHORTEST,
    )
    assert loss.low * 1e6 == pytest.approx(0.0, abs=0.5)
    assert loss.high * 1e6 == pytest.approx(-2 * math.log(0.05) * u * u * 1e6, abs=1.5)


def test_mass_calibration_shortest_interval() -> None:
    from published import mass_model, mass_quantities

    # JCGM 101, 9.3: published [1.0834, 1.3825], from memory; position noisy, width not
    run = evaluate(
        mass_model,
        mass_quantities(),
        units={"dm": "mg"},
        draws=400_000,
        interval=Interval.SHORTEST,
    )
    low, high = run["dm"].low, run["dm"].high
    assert high - low == pytest.approx(1.3825 - 1.0834, abs=0.0015)
    assert low == pytest.approx(1.0834, abs=0.008)


def test_both_agree_on_a_symmetric_distribution() -> None:
    row = stats.norm.ppf((np.arange(20_000) + 0.5) / 20_000)
    symmetric = Interval.SYMMETRIC.of(row.copy(), 0.95)
    shortest = Interval.SHORTEST.of(row.copy(), 0.95)
    assert symmetric == pytest.approx((-1.96, 1.96), abs=0.002)
    assert shortest == pytest.approx(symmetric, abs=0.01)
