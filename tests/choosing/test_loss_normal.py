"""The normal distribution over arrays, against scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from gaugelink.choosing.loss import cdf, mean_above_zero, probability_below, share_below
from gaugelink.uncertainty.conformity import probability_above
from gaugelink.uncertainty.estimate import Estimate


def test_the_distribution_function_is_that_of_scipy() -> None:
    z = np.linspace(-9, 9, 1801)
    # 26.2.17 of Abramowitz and Stegun promises 7.5e-8.
    np.testing.assert_allclose(cdf(z), stats.norm.cdf(z), atol=7.5e-8)


@pytest.mark.parametrize("u", [0.001, 0.05, 1.0, 30.0])
@pytest.mark.parametrize("in_u", [-6.0, -2.0, -0.3, 0.0, 0.3, 2.0, 6.0])
def test_the_mean_of_what_lies_above_zero_is_the_integral(u: float, in_u: float) -> None:
    mean = in_u * u
    expected, _ = integrate.quad(
        lambda z: max(mean + u * z, 0.0) * stats.norm.pdf(z), -12, 12, points=[-in_u], limit=200
    )
    assert mean_above_zero(mean, u) == pytest.approx(expected, abs=2e-7 * u)


def test_without_uncertainty_the_mean_is_the_value_above_zero() -> None:
    np.testing.assert_array_equal(mean_above_zero(np.array([-1.0, 0.0, 2.0]), 0.0), [0, 0, 2])


@pytest.mark.parametrize("room", [-0.2, -0.03, 0.0, 0.01, 0.05, 0.3])
@pytest.mark.parametrize("u", [0.005, 0.03])
@pytest.mark.parametrize("tolerance", [1e-5, 0.02, 0.1])
def test_the_probability_of_fitting_is_the_mean_over_the_tolerance_zone(
    room: float, u: float, tolerance: float
) -> None:
    # JCGM 106, clause 7: P(h + e <= H), e uniform within the tolerance, H normal.
    expected, _ = integrate.quad(
        lambda e: stats.norm.cdf((room - e) / u) / (2 * tolerance), -tolerance, tolerance
    )
    assert probability_below(room, u, tolerance) == pytest.approx(expected, abs=3e-6)


@pytest.mark.parametrize("room", [-0.05, -0.01, 0.0, 0.02])
def test_without_a_tolerance_it_is_the_conformance_probability(room: float) -> None:
    limit = Estimate(
        label="limit", value=1.5, u=0.02, dof=float("inf"), unit="mm", low=1.46, high=1.54
    )
    expected = probability_above(limit, 1.5 - room)
    assert probability_below(room, 0.02, 0.0) == pytest.approx(expected, abs=1e-7)


@pytest.mark.parametrize(
    ("room", "tolerance", "share"),
    [
        (0.0, 0.02, 0.5),
        (0.01, 0.02, 0.75),
        (0.02, 0.02, 1.0),
        (-0.03, 0.02, 0.0),
        (0.0, 0.0, 1.0),  # as high as it may be
        (1.64 - 0.31 - 0.10 - 1.23, 0.0, 1.0),  # the same, but for binary fractions
        (-0.001, 0.0, 0.0),
    ],
)
def test_a_known_limit_allows_a_part_of_the_tolerance(
    room: float, tolerance: float, share: float
) -> None:
    assert share_below(np.array(room), np.array(tolerance)) == pytest.approx(share)
    assert probability_below(room, 0.0, tolerance) == pytest.approx(share)
