from __future__ import annotations

import math
from typing import Any

import pytest
from published import dof_of, load
from scipy import stats

from gaugelink.errors import InputError
from gaugelink.uncertainty.coverage import coverage_factor, welch_satterthwaite

TABLE_G2 = load("gum_table_g2")


@pytest.mark.parametrize("row", TABLE_G2["rows"], ids=lambda row: f"dof {row['dof']}")
def test_table_g2(row: dict[str, Any]) -> None:
    for coverage, published in zip(TABLE_G2["coverage"], row["k"], strict=True):
        # 235.80 is the one cell that needs more digits of p than are printed
        tolerance = 0.025 if published == 235.80 else 0.00501
        k = coverage_factor(coverage, dof_of(row))
        assert k == pytest.approx(published, abs=tolerance), coverage


@pytest.mark.parametrize("dof", [1, 2, 5, 16, 200, math.inf])
@pytest.mark.parametrize("coverage", [0.5, 0.6827, 0.95, 0.99, 0.999])
def test_k_agrees_with_scipy(coverage: float, dof: float) -> None:
    assert coverage_factor(coverage, dof) == pytest.approx(
        stats.t.ppf((1 + coverage) / 2, dof), rel=1e-9
    )


def test_welch_satterthwaite_example_of_g41() -> None:
    example = load("gum_welch_satterthwaite")
    relative_u, published = example["relative_u_percent"], example["published"]
    nu_eff = welch_satterthwaite(relative_u, example["dof"])
    u_c, k = math.hypot(*relative_u), coverage_factor(0.95, 19)
    assert nu_eff == pytest.approx(published["nu_eff"], abs=0.05)
    assert u_c == pytest.approx(published["u_c_percent"], abs=0.005)
    assert k == pytest.approx(published["k_95"], abs=0.005)
    assert k * u_c == pytest.approx(published["U_95_percent"], abs=0.05)


@pytest.mark.parametrize(
    ("contributions", "dofs", "expected"),
    [
        ([3.0], [4.0], 4.0),
        ([3.0, 0.0], [4.0, 1.0], 4.0),
        ([1.0, 1.0], [5.0, 5.0], 10.0),
        ([3e-200, 3e-200], [5.0, 5.0], 10.0),
        ([1.0, 2.0], [math.inf, math.inf], math.inf),
        ([0.0], [7.0], math.inf),
        ([], [], math.inf),
    ],
)
def test_effective_degrees_of_freedom(
    contributions: list[float], dofs: list[float], expected: float
) -> None:
    assert welch_satterthwaite(contributions, dofs) == pytest.approx(expected)


def test_dof_is_truncated_before_the_look_up() -> None:
    # GUM H.1: 16.75 is taken as 16, hence 2.120 and not 2.113
    assert coverage_factor(0.95, 16.75) == coverage_factor(0.95, 16)


@pytest.mark.parametrize("dof", range(1, 60))
def test_rounding_does_not_cost_a_degree_of_freedom(dof: float) -> None:
    assert coverage_factor(0.95, dof * (1 - 4e-16)) == coverage_factor(0.95, dof)


@pytest.mark.parametrize("coverage", [0.0, 1.0, -0.5, 95, math.nan])
def test_impossible_coverage_is_refused(coverage: float) -> None:
    with pytest.raises(InputError, match="coverage must be"):
        coverage_factor(coverage, 10)


@pytest.mark.parametrize("dof", [0.0, 0.9, -1.0, math.nan])
def test_no_k_without_degrees_of_freedom(dof: float) -> None:
    with pytest.raises(InputError, match="degrees of freedom"):
        coverage_factor(0.95, dof)
