"""Whole budgets of EA-4/02, trapezoids, and small samples as scaled and shifted t."""

from __future__ import annotations

import math
from typing import Any

import pytest
from published import load, single
from scipy import stats

from gaugelink.statistics.moments import mean
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term, rectangular
from gaugelink.uncertainty.first_order import propagate
from gaugelink.uncertainty.monte_carlo import OutputDistribution, simulate

S4 = load("gum_ea4_s4_gauge_block")
TRAPEZOID = load("gum_trapezoid_k")


def s4_quantity(entry: dict[str, Any]) -> Quantity:
    half_width = entry.get("half_width_nm", entry.get("half_width_K"))
    u = entry.get("u_nm", entry.get("u_per_one")) if half_width is None else rectangular(half_width)
    influence = Influence(
        label=entry["label"], kind=entry["kind"], u=u, shape=Shape(entry["shape"])
    )
    return Quantity(label=entry["label"], value=0.0, terms=(Term(influence=influence),))


def s4_model(x: Any) -> dict[str, Any]:
    readings = mean([float(v) for v in S4["dl"]["readings_nm"]])
    factors = {
        e["label"]: e.get("sensitivity_nm_per_K", e.get("sensitivity_nm", 1.0))
        for e in S4["influences"]
    }
    return {"l_X": S4["l_S_nm"] + readings + sum(factors[name] * x[name] for name in factors)}


def test_gauge_block_of_50_mm() -> None:
    quantities = [s4_quantity(entry) for entry in S4["influences"]]
    (block,) = propagate(s4_model, quantities)
    published, unrounded = S4["published"], S4["unrounded"]
    assert block.value == published["l_X_nm"]
    assert block.u == pytest.approx(published["u_nm"], abs=0.05)
    assert block.u == pytest.approx(unrounded["u_nm"], abs=0.01)
    assert published["k"] * block.u == pytest.approx(published["U_nm"], abs=0.5)
    assert math.isinf(block.dof)  # a pooled standard deviation needs no Student factor


def test_vernier_caliper_to_first_order() -> None:
    example = load("gum_ea4_s10_caliper")
    quantities = [
        single(label, 0.0, rectangular(a), Shape.RECTANGULAR)
        for label, a in example["half_widths_um"].items()
    ]
    (error,) = propagate(lambda x: {"error": sum(x.values())}, quantities)
    assert error.u == pytest.approx(example["published"]["u_um"], abs=0.7)  # rounded up
    # 0.002 um of it come from the printed sensitivity of 1.7 um per K
    assert error.u == pytest.approx(example["unrounded"]["u_um"], abs=0.003)
    expanded = example["unrounded"]["k_trapezoid"] * error.u
    assert expanded == pytest.approx(example["published"]["U_95_um"], abs=0.8)


@pytest.mark.parametrize("row", TRAPEZOID["rows"], ids=lambda row: f"beta {row['beta']:.2f}")
def test_two_rectangles_have_the_k_of_their_trapezoid(row: dict[str, float]) -> None:
    a1, a2 = (1 - row["beta"]) / 2, (1 + row["beta"]) / 2
    quantities = [
        single(f"a{i}", 0.0, rectangular(a), Shape.RECTANGULAR) for i, a in enumerate((a1, a2))
    ]
    (total,) = simulate(
        lambda x: {"sum": x["a0"] + x["a1"]}, quantities, coverage=0.95, draws=400_000, seed=2
    )
    k = (total.high - total.low) / 2 / math.hypot(rectangular(a1), rectangular(a2))
    assert k == pytest.approx(row["k_95"], abs=0.006)


def test_one_rectangle_alone_prints_165() -> None:
    assert TRAPEZOID["rows"][-1]["k_95"] == pytest.approx(
        TRAPEZOID["published"]["s9_single_rectangle"], abs=0.005
    )


def mean_of(n: int, seed: int) -> OutputDistribution:
    """The distribution of the mean of n readings with standard deviation 1."""
    scatter = Influence(
        label="scatter", kind="A", u=1 / math.sqrt(n), shape=Shape.STUDENT, dof=n - 1.0
    )
    quantity = Quantity(label="x", value=5.0, terms=(Term(influence=scatter),))
    (output,) = simulate(
        lambda x: {"y": x["x"]}, [quantity], coverage=0.95, draws=400_000, seed=seed
    )
    return output


@pytest.mark.parametrize(
    "row", load("gum_bayesian_type_a")["rows"], ids=lambda row: f"n = {row['n']}"
)
def test_few_readings_have_the_interval_of_their_t(row: dict[str, Any]) -> None:
    n = row["n"]
    output = mean_of(n, seed=n)
    # Noise of an end point: sqrt(p (1 - p) / draws) over the density there.
    at = stats.t.ppf(0.975, n - 1)
    noise = math.sqrt(0.025 * 0.975 / 400_000) / stats.t.pdf(at, n - 1) / math.sqrt(n)
    expected = row["half_width_95_in_s"]
    assert output.high - 5.0 == pytest.approx(expected, abs=4 * noise + 1e-4)
    assert 5.0 - output.low == pytest.approx(expected, abs=4 * noise + 1e-4)


@pytest.mark.parametrize(
    "row",
    [row for row in load("gum_bayesian_type_a")["rows"] if row["n"] > 5],
    ids=lambda row: f"n = {row['n']}",
)
def test_few_readings_have_the_standard_deviation_of_their_t(row: dict[str, Any]) -> None:
    # With five readings and fewer the fourth moment is infinite and the figure too noisy.
    n = row["n"]
    assert mean_of(n, seed=n).std * math.sqrt(n) == pytest.approx(
        row["std_over_s_root_n"], rel=0.02
    )
