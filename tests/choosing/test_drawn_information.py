"""Stability and the value of information, against closed forms and a nested Monte Carlo."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from gaugelink.choosing.drawn import shares_of_first, stability, value_of_all, value_of_knowing

DRAWS = 200_000


def two_springs(mean: float, by_x: float, by_y: float, seed: int = 3) -> tuple[object, ...]:
    """The second spring loses ``mean`` + by_x x + by_y y points more than the first."""
    rng = np.random.default_rng(seed)
    x, y = rng.standard_normal((2, DRAWS))
    other = mean + by_x * x + by_y * y
    return np.stack([np.zeros(DRAWS), other], axis=1) + rng.normal(size=(DRAWS, 1)), x, y


@pytest.mark.parametrize(
    ("mean", "by_x", "by_y"), [(1.0, 2.0, 1.0), (0.0, 1.0, 3.0), (2.0, 2.0, 0.5)]
)
def test_two_candidates_with_normal_losses(mean: float, by_x: float, by_y: float) -> None:
    """EVPPI of x is the unit normal loss integral: |s| [phi(t) - |t| Phi(-|t|)], t = mean / s.

    E min(0, mean + s z) for a normal z, any text on decision analysis; here s = by_x.
    """
    losses, x, y = two_springs(mean, by_x, by_y)
    for known, s in ((x, by_x), (y, by_y)):
        t = abs(mean) / s
        expected = s * (stats.norm.pdf(t) - t * stats.norm.sf(t))
        found = value_of_knowing(losses, known)
        assert found.gain == pytest.approx(expected, abs=4 * found.u_gain + 0.005)
        assert found.is_sure == (expected > 0.001)
    s = math.hypot(by_x, by_y)
    whole = s * (stats.norm.pdf(mean / s) - mean / s * stats.norm.sf(mean / s))
    assert value_of_all(losses) == pytest.approx(whole, rel=0.03)


def test_stability_is_the_probability_that_the_first_is_better() -> None:
    losses, _, _ = two_springs(1.0, 2.0, 1.0)
    # A tenth of a point is a tie, which goes to the first.
    expected = stats.norm.cdf((1.0 + 0.1) / math.hypot(2.0, 1.0))
    assert stability(losses) == pytest.approx(expected, abs=0.004)
    np.testing.assert_allclose(shares_of_first(losses), [expected, 1 - expected], atol=0.004)


def test_knowing_what_does_not_matter_is_worth_nothing() -> None:
    losses, _, _ = two_springs(0.05, 2.0, 1.0)
    noise = np.random.default_rng(9).standard_normal(DRAWS)
    found = value_of_knowing(losses, noise)
    assert not found.is_sure
    assert found.gain < 0.02
    assert value_of_knowing(losses, np.zeros(DRAWS)).gain == 0.0


def test_many_springs_alike_do_not_make_chance_look_like_a_gain() -> None:
    """A regression that chose by its own draws would find some 0.1 points here."""
    rng = np.random.default_rng(4)
    losses, noise = 3.0 * rng.standard_normal((4_000, 20)), rng.standard_normal(4_000)
    found = value_of_knowing(losses, noise)
    assert not found.is_sure
    assert found.gain < 0.07


def test_knowing_all_is_worth_at_least_as_much_as_knowing_one() -> None:
    losses, x, y = two_springs(0.5, 2.0, 1.0)
    best = max(value_of_knowing(losses, each).gain for each in (x, y))
    assert 0 < best <= value_of_all(losses)


def kinked(x: object, y: object) -> object:
    """Losses of four springs as the score has them: bent, and lopsided. Invented."""
    centres, slopes = np.array([-0.8, 0.0, 0.7, 1.5]), np.array([3.0, 2.5, 2.0, 4.0])
    away = np.asarray(x)[..., None] - centres
    high = np.maximum(np.asarray(y)[..., None] - np.array([0.5, 1.0, -0.2, 2.0]), 0.0)
    return slopes * np.abs(away) + 4.0 * high


def test_bent_losses_against_a_nested_monte_carlo() -> None:
    """The oracle draws y anew under every fixed x, and chooses with full knowledge of x."""
    rng = np.random.default_rng(5)
    x, y = rng.standard_normal((2, 40_000))
    losses = kinked(x, y)
    outer, inner = rng.standard_normal(2_000), rng.standard_normal(2_000)
    nested = np.array([np.mean(kinked(np.full(2_000, at), inner), axis=0) for at in outer])
    expected = nested.mean(axis=0).min() - nested.min(axis=1).mean()
    found = value_of_knowing(losses, x)
    assert found.gain == pytest.approx(expected, rel=0.06)
    assert found.right == pytest.approx(
        np.mean(losses[np.arange(len(x)), _chosen(x)] <= losses.min(axis=1) + 0.1), abs=0.02
    )


def _chosen(x: object) -> object:
    """The best spring under each x, y averaged out on a fine grid of probabilities."""
    y = stats.norm.ppf((np.arange(400) + 0.5) / 400)
    grid = np.linspace(-5, 5, 1001)
    best = np.array([np.mean(kinked(np.full(400, at), y), axis=0).argmin() for at in grid])
    return best[np.clip(np.round((np.asarray(x) + 5) * 100).astype(int), 0, 1000)]


def test_each_spring_may_have_something_of_its_own() -> None:
    """n springs alike, each off by a normal error of its own: knowing all gains E max of n."""
    rng = np.random.default_rng(8)
    own = rng.standard_normal((DRAWS, 3))
    losses = 5.0 + 2.0 * own
    expected = 2.0 * 1.5 / math.sqrt(math.pi)  # mean of the largest of three: 3 / (2 sqrt(pi))
    assert value_of_knowing(losses, own).gain == pytest.approx(expected, rel=0.02)
