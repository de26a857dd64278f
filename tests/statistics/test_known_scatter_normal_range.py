"""The range of n normal values: against scipy, ISO 5725-6 and the closed form for two."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from gaugelink.statistics.known_scatter import range_cdf, range_quantile


@pytest.mark.parametrize("n", [2, 3, 5, 12, 30])
@pytest.mark.parametrize("w", [0.1, 1.0, 2.5, 4.0, 6.0])
def test_cdf_against_scipy(n: int, w: float) -> None:
    # scipy integrates over the degrees of freedom as well: 1e6 of them stand for a known sigma.
    assert range_cdf(w, n) == pytest.approx(stats.studentized_range.cdf(w, n, 1e6), abs=2e-6)


@pytest.mark.parametrize("w", [0.3, 1.7, 3.9])
def test_two_values_differ_by_a_normal_of_twice_the_variance(w: float) -> None:
    assert range_cdf(w, 2) == pytest.approx(math.erf(w / 2.0), abs=1e-12)


def test_critical_range_factors_of_iso_5725_6() -> None:
    # ISO 5725-6:1994, table 1, f(n) at 95 % (from memory).
    factors = [2.8, 3.3, 3.6, 3.9, 4.0, 4.2, 4.3, 4.4, 4.5]
    assert [round(range_quantile(0.95, n), 1) for n in range(2, 11)] == factors


@pytest.mark.parametrize("p", [0.001, 0.5, 0.9, 0.999])
def test_quantile_is_the_inverse(p: float) -> None:
    assert range_cdf(range_quantile(p, 7), 7) == pytest.approx(p, abs=1e-8)


@pytest.mark.parametrize(("p", "n"), [(0.0, 5), (1.0, 5), (0.5, 1)])
def test_what_has_no_quantile_is_refused(p: float, n: int) -> None:
    with pytest.raises(ValueError, match="quantile"):
        range_quantile(p, n)
