"""Student's t against closed forms, scipy and the table of the GUM."""

from __future__ import annotations

import math

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from stat_data import load

from gaugelink.statistics.student import normal_quantile, t_cdf, t_quantile

DOFS = [1, 1.5, 2, 2.7, 3, 4, 5, 8, 16.75, 30, 100, 999.5, 9_999, 10_000, 10_001, 100_000]
TAILS = [1e-9, 1e-7, 1e-5, 1e-3, 0.005, 0.025, 0.05, 0.1, 0.2, 0.2499, 0.2501, 0.3, 0.4, 0.49]
G2 = load("stat_gum_g2.json")


@pytest.mark.parametrize("dof", DOFS)
def test_quantile_agrees_with_scipy_in_both_tails(dof: float) -> None:
    for tail in TAILS:
        for p in (tail, 1.0 - tail):
            assert t_quantile(p, dof) == pytest.approx(stats.t.ppf(p, dof), rel=1e-9), p


@pytest.mark.parametrize("dof", DOFS)
def test_cdf_agrees_with_scipy_in_both_tails(dof: float) -> None:
    for t in (0.0, 1e-6, 0.1, 0.7, 1.7, 1.75, 2.0, 6.0, 30.0, 1e3):
        for signed in (-t, t):
            expected = stats.t.cdf(signed, dof)
            assert t_cdf(signed, dof) == pytest.approx(expected, rel=1e-9, abs=1e-59), signed


# Cauchy: t = tan(pi (p - 1/2)), written so that no digits are lost in the tail.
@pytest.mark.parametrize("tail", [1e-9, 1e-3, 0.1, 0.25, 0.4, 0.499])
def test_quantile_of_dof_one_is_a_cotangent(tail: float) -> None:
    assert t_quantile(tail, 1) == pytest.approx(-1.0 / math.tan(math.pi * tail), rel=1e-12)


@pytest.mark.parametrize("tail", [1e-9, 1e-3, 0.1, 0.25, 0.4, 0.499999])
def test_quantile_of_dof_two_is_a_square_root(tail: float) -> None:
    expected = (2.0 * tail - 1.0) / math.sqrt(2.0 * tail * (1.0 - tail))
    assert t_quantile(tail, 2) == pytest.approx(expected, rel=1e-13)


def test_quantile_keeps_its_digits_next_to_the_median() -> None:
    # The density of dof 4 at zero is 3/8.
    p = 0.5 + 2.0**-40
    assert t_quantile(p, 4) == pytest.approx(2.0**-40 / 0.375, rel=1e-12)


@pytest.mark.parametrize("row", G2["rows"], ids=lambda row: f"dof {row['dof']}")
def test_quantile_gives_table_g2_of_the_gum(row: dict[str, object]) -> None:
    # Printed digits from memory. The last row of the table has three decimals.
    dof = float(str(row["dof"]))
    tolerance = 0.0051 if math.isfinite(dof) else 0.00051
    printed = row["t"]
    assert isinstance(printed, list)
    for coverage, t in zip(G2["coverage"], printed, strict=True):
        assert t_quantile((1.0 + coverage) / 2.0, dof) == pytest.approx(t, abs=tolerance)


@pytest.mark.parametrize("p", [1e-300, 1e-9, 0.025, 0.3, 0.5, 0.7, 0.975])
def test_infinite_dof_is_the_normal_distribution(p: float) -> None:
    assert t_quantile(p, math.inf) == normal_quantile(p)
    assert t_quantile(p, 1e21) == normal_quantile(p)
    assert t_cdf(normal_quantile(p), math.inf) == pytest.approx(p, rel=1e-12)


@pytest.mark.parametrize("dof", [0.05, 0.3, 7, 64, 5_000, 10_000, 10_001, 1e300])
def test_no_tail_is_too_far(dof: float) -> None:
    quantiles = [t_quantile(p, dof) for p in (5e-324, 1e-300, 1e-100, 1e-20, 0.4)]
    assert quantiles == sorted(quantiles)
    assert quantiles[-1] < 0.0
    for p, t in zip((1e-300, 1e-100, 1e-20), quantiles[1:], strict=False):
        assert math.isinf(t) or t_cdf(t, dof) == pytest.approx(p, rel=1e-9)


def test_quantile_too_large_for_a_float_is_infinite() -> None:
    assert t_quantile(1e-9, 0.01) == -math.inf
    assert t_quantile(1.0 - 1e-9, 0.01) == math.inf


@given(
    p=st.floats(1e-9, 1 - 1e-9),
    dof=st.floats(0.5, 1e6),
)
@settings(max_examples=examples(150), deadline=None)
def test_cdf_undoes_quantile(p: float, dof: float) -> None:
    assert t_cdf(t_quantile(p, dof), dof) == pytest.approx(p, rel=1e-9)


@given(tail=st.integers(1, 2**20), dof=st.floats(0.5, 1e6))
@settings(max_examples=examples(100), deadline=None)
def test_quantile_is_odd_about_the_median(tail: int, dof: float) -> None:
    p = tail / 2**21  # 1 - p is exact
    assert t_quantile(1.0 - p, dof) == -t_quantile(p, dof)


@pytest.mark.parametrize(("t", "p"), [(-math.inf, 0.0), (0.0, 0.5), (math.inf, 1.0)])
@pytest.mark.parametrize("dof", [0.5, 3, 1e5, math.inf])
def test_cdf_at_the_ends(t: float, p: float, dof: float) -> None:
    assert t_cdf(t, dof) == p


@pytest.mark.parametrize("p", [0.0, 1.0, -0.1, 1.1, math.nan])
def test_probability_out_of_range_is_refused(p: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        t_quantile(p, 3)
    with pytest.raises(ValueError, match="between 0 and 1"):
        normal_quantile(p)


@pytest.mark.parametrize("dof", [0.0, -1.0, math.nan])
def test_dof_that_is_not_positive_is_refused(dof: float) -> None:
    with pytest.raises(ValueError, match="positive"):
        t_quantile(0.9, dof)
    with pytest.raises(ValueError, match="positive"):
        t_cdf(1.0, dof)


def test_t_that_is_not_a_number_is_refused() -> None:
    with pytest.raises(ValueError, match="not a number"):
        t_cdf(math.nan, 3)
