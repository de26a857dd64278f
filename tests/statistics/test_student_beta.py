"""The incomplete beta function against scipy and a closed form."""

from __future__ import annotations

import math

import pytest
from scipy import special

from gaugelink.statistics.student import log_beta, log_incomplete_beta

CASES = [
    (a, b, fraction * (a + 1) / (a + b + 2))
    for a, b in [(0.5, 0.5), (0.5, 3.0), (0.5, 5000.0), (1.0, 0.5), (2.5, 0.5), (5000.0, 0.5)]
    for fraction in (1e-6, 0.1, 0.5, 0.9, 0.999)
]


@pytest.mark.parametrize(("a", "b", "x"), CASES)
def test_incomplete_beta_agrees_with_scipy(a: float, b: float, x: float) -> None:
    expected = special.betainc(a, b, x)
    assert math.exp(log_incomplete_beta(a, b, x)) == pytest.approx(expected, rel=1e-10, abs=1e-300)


def test_logarithm_goes_on_where_the_value_underflows() -> None:
    # I_x(a, 1) = x^a
    assert log_incomplete_beta(5000.0, 1.0, 0.5) == pytest.approx(5000 * math.log(0.5), rel=1e-14)


def test_incomplete_beta_is_zero_at_zero() -> None:
    assert log_incomplete_beta(2.0, 0.5, 0.0) == -math.inf


@pytest.mark.parametrize(("a", "b", "beta"), [(0.5, 0.5, math.pi), (2, 3, 1 / 12), (1, 0.5, 2)])
def test_beta_has_its_known_values(a: float, b: float, beta: float) -> None:
    assert math.exp(log_beta(a, b)) == pytest.approx(beta, rel=1e-14)
