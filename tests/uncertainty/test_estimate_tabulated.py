"""Influences worked out on a grid: their mean, u and quantiles are those of the weighted values."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from gaugelink.uncertainty.estimate import Quantity, Shape, Term, tabulated
from gaugelink.uncertainty.monte_carlo import draw_blocks, simulate


def test_a_normal_distribution_on_a_grid() -> None:
    """Exact: mean 3, u 0.2; of its quantiles scipy."""
    x = np.linspace(1.0, 5.0, 2001)
    mean, influence = tabulated("x", x, stats.norm.pdf(x, 3.0, 0.2))
    assert mean == pytest.approx(3.0, abs=1e-4)
    assert influence.u == pytest.approx(0.2, rel=0.005)
    assert (influence.shape, influence.kind) == (Shape.TABULATED, "B")
    at = np.array([10, 100, 200, 300, 390])
    want = stats.norm.ppf(at / 400, 0.0, 0.2)
    assert np.array(influence.quantiles)[at] == pytest.approx(want, abs=3e-3)


@pytest.mark.parametrize("width", [6.0, 20.0, 200.0])
def test_a_grid_with_empty_ends_has_no_tails(width: float) -> None:
    """Where the weight is next to nothing the ends of the grid must not count."""
    x = np.linspace(-width, width, int(width * 400) + 1)
    weight = np.exp(-x * x / 2)
    mean, influence = tabulated("x", x, weight)
    assert mean == pytest.approx(0.0, abs=1e-6)
    assert influence.u == pytest.approx(1.0, rel=0.005)
    assert max(influence.quantiles) < 4.0


def test_a_skewed_one_and_values_in_any_order() -> None:
    """Lognormal of median 2200 and spread 0.1: mean and u by their closed forms."""
    deviate = np.linspace(-5.0, 5.0, 1001)
    values, weight = 2200 * np.exp(0.1 * deviate), np.exp(-deviate * deviate / 2)
    mean, influence = tabulated("x", values, weight)
    assert mean == pytest.approx(2200 * math.exp(0.005), rel=1e-4)
    u = 2200 * math.exp(0.005) * math.sqrt(math.exp(0.01) - 1)
    assert influence.u == pytest.approx(u, rel=0.005)
    mixed = np.random.default_rng(3).permutation(len(values))
    again = tabulated("x", values[mixed], 7.5 * weight[mixed])
    assert again[0] == pytest.approx(mean)
    assert again[1].u == pytest.approx(influence.u)


def test_half_in_one_value_and_half_spread() -> None:
    """1 with a probability of a half, else anything from 0.55 to 1: by hand."""
    steps = 0.55 + 0.45 * (np.arange(300) + 0.5) / 300
    values, weight = np.append(steps, 1.0), np.append(np.full(300, 0.5 / 300), 0.5)
    mean, influence = tabulated("x", values, weight)
    variance = 0.5 + 0.5 * (0.775**2 + 0.45**2 / 12) - 0.8875**2
    assert mean == pytest.approx(0.8875, abs=5e-4)
    assert influence.u == pytest.approx(math.sqrt(variance), rel=0.005)


def test_one_value_alone_is_exact() -> None:
    mean, influence = tabulated("x", np.full(5, 2.5), np.ones(5))
    assert (mean, influence.u) == (pytest.approx(2.5), pytest.approx(0.0, abs=1e-12))


def test_draws_spread_as_the_table_does() -> None:
    x = np.linspace(0.0, 9.0, 3000)
    mean, influence = tabulated("x", x, stats.gamma.pdf(x, 2.0, scale=0.5))
    quantity = Quantity(label="x", value=mean, terms=(Term(influence=influence),))
    drawn = np.concatenate([b["x"] for b in draw_blocks([quantity], draws=200_000, seed=4)])
    assert drawn.mean() == pytest.approx(1.0, abs=0.005)  # shape 2, scale 0.5
    assert drawn.std() == pytest.approx(math.sqrt(0.5), rel=0.01)
    for p in (0.025, 0.5, 0.975):
        assert np.quantile(drawn, p) == pytest.approx(stats.gamma.ppf(p, 2.0, scale=0.5), rel=0.02)
    doubled = replace(quantity, terms=(Term(influence=influence, factor=2.0),))
    (output,) = simulate(lambda v: {"y": v["x"]}, [doubled], coverage=0.95, draws=50_000, seed=4)
    assert output.std == pytest.approx(2 * math.sqrt(0.5), rel=0.02)
