from __future__ import annotations

import math
import subprocess
import sys
from collections.abc import Mapping
from typing import Any

import pytest
from published import load, mass_model, mass_quantities, single

from gaugelink.errors import InputError
from gaugelink.uncertainty.coverage import coverage_factor
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term
from gaugelink.uncertainty.evaluate import evaluate
from gaugelink.uncertainty.monte_carlo import simulate, tolerance_of

GAUGE = Influence(label="caliper error", kind="B", u=0.0115, shape=Shape.RECTANGULAR)
SCATTER = Influence(label="bore repeatability", kind="A", u=0.004, shape=Shape.STUDENT, dof=4.0)
BORE = Quantity(label="bore", value=11.0, terms=(Term(influence=SCATTER), Term(influence=GAUGE)))
ARBOR = Quantity(label="arbor", value=3.7, terms=(Term(influence=GAUGE),))


def ring(x: Mapping[str, Any]) -> dict[str, Any]:
    return {"ring": x["bore"] ** 2 - x["arbor"] ** 2, "ratio": x["bore"] / x["arbor"]}


UNITS = {"ring": "mm2", "ratio": "1"}
RUN = evaluate(ring, [BORE, ARBOR], units=UNITS, draws=50_000, seed=5)


def test_an_estimate_has_its_value_and_u_from_first_order() -> None:
    estimate = RUN["ring"]
    own, gauge = 22 * 0.004, (22 - 7.4) * 0.0115
    assert estimate.value == 11.0**2 - 3.7**2
    assert estimate.u == pytest.approx(math.hypot(own, gauge))
    assert estimate.dof == pytest.approx(estimate.u**4 / (own**4 / 4))
    assert estimate.unit == "mm2"


def test_an_estimate_has_its_interval_from_the_draws() -> None:
    drawn = simulate(ring, [BORE, ARBOR], coverage=0.95, draws=50_000, seed=5)
    assert RUN.distributions == drawn
    assert [(e.low, e.high) for e in RUN.estimates] == [(d.low, d.high) for d in drawn]


def test_the_first_order_interval_is_k_u_either_way() -> None:
    for estimate in RUN.first_order:
        expanded_u = coverage_factor(0.95, estimate.dof) * estimate.u
        assert estimate.low == pytest.approx(estimate.value - expanded_u)
        assert estimate.high == pytest.approx(estimate.value + expanded_u)


def test_inputs_are_estimates_of_the_same_run() -> None:
    assert [estimate.label for estimate in RUN.inputs] == ["bore", "arbor"]
    bore = RUN["bore"]
    assert (bore.value, bore.unit) == (11.0, "mm")
    assert bore.u == pytest.approx(math.hypot(0.004, 0.0115))
    arbor = RUN["arbor"]
    assert (arbor.high - arbor.low) / 2 == pytest.approx(0.95 * math.sqrt(3) * 0.0115, rel=0.01)


def test_budget_has_every_influence_of_every_output() -> None:
    assert [(row.output, row.influence) for row in RUN.budget] == [
        (output, influence)
        for output in ("ring", "ratio")
        for influence in ("bore repeatability", "caliper error")
    ]


def test_the_run_can_be_repeated_from_what_it_says() -> None:
    again = evaluate(
        ring,
        [BORE, ARBOR],
        units=UNITS,
        coverage=RUN.coverage,
        draws=RUN.draws,
        seed=RUN.seed,
    )
    assert again == RUN


def test_an_unknown_label_is_a_key_error() -> None:
    with pytest.raises(KeyError, match="fill"):
        RUN["fill"]


def test_an_input_may_be_handed_through_but_not_replaced() -> None:
    def handed_through(x: Mapping[str, Any]) -> dict[str, Any]:
        return {**x, **ring(x)}

    run = evaluate(handed_through, [BORE, ARBOR], units=UNITS, draws=50_000, seed=5)
    assert run == RUN

    with pytest.raises(ValueError, match="label of an input"):
        evaluate(lambda x: {"bore": 2 * x["bore"]}, [BORE], units={}, draws=1000)


def test_an_output_without_a_unit_is_refused() -> None:
    with pytest.raises(KeyError, match="ratio"):
        evaluate(ring, [BORE, ARBOR], units={"ring": "mm2"}, draws=1000)


@pytest.mark.parametrize(
    "change", [{"coverage": 1.5}, {"coverage": 0.0}, {"draws": 10}, {"seed": -3}]
)
def test_impossible_requests_are_refused(change: dict[str, Any]) -> None:
    with pytest.raises(InputError):
        evaluate(ring, [BORE, ARBOR], units=UNITS, **({"draws": 1000} | change))


@pytest.mark.parametrize(
    ("u", "tolerance"),
    [
        (2.0, 0.5),
        (10.1, 5.0),
        (0.0539, 0.005),
        (0.00035, 0.00005),
        (0.096, 0.05),
        (1.0, 0.5),
        (0.0, 0.0),
    ],
)
def test_tolerance_is_half_of_the_first_digit(u: float, tolerance: float) -> None:
    # 2.0 and 0.5: JCGM 101:2008, 9.2.2, for one significant digit
    assert tolerance_of(u) == pytest.approx(tolerance)


@pytest.mark.parametrize("case", load("gum_s1_additive")["cases"], ids=lambda c: c["clause"])
def test_additive_examples_agree_at_one_digit(case: dict[str, Any]) -> None:
    quantities = [single(f"X{i}", 0.0, u, Shape(case["shape"])) for i, u in enumerate(case["u"])]
    run = evaluate(lambda x: {"Y": sum(x.values())}, quantities, units={"Y": "1"}, draws=100_000)
    assert (run.disagreements == ()) is case["agree_at_one_digit"]


def test_mass_calibration_is_reported_as_a_disagreement() -> None:
    example = load("gum_s1_mass")  # JCGM 101, 9.3: first order misses the interaction
    run = evaluate(mass_model, mass_quantities(), units={"dm": "mg"})
    (disagreement,) = run.disagreements
    published, recomputed = example["published"]["first_order"], example["recomputed"]
    assert disagreement.output == "dm"
    assert disagreement.tolerance == pytest.approx(0.005)
    assert disagreement.low_difference == pytest.approx(
        published["low"] - recomputed["low"], abs=0.003
    )
    assert disagreement.high_difference == pytest.approx(
        recomputed["high"] - published["high"], abs=0.003
    )


def test_an_even_function_at_its_turning_point_is_reported() -> None:
    u = load("gum_s1_comparison_loss")["u"]  # JCGM 101, 9.4, x1 = 0
    run = evaluate(
        lambda x: {"loss": x["x1"] ** 2 + x["x2"] ** 2},
        [single("x1", 0.0, u), single("x2", 0.0, u)],
        units={"loss": "1"},
    )
    assert run["loss"].u == 0.0
    assert run["loss"].high > 0.0
    assert [d.output for d in run.disagreements] == ["loss"]


def test_what_cancels_but_for_rounding_does_not_disagree() -> None:
    seat = Quantity(label="seat", value=11.0, terms=(Term(influence=GAUGE),))
    run = evaluate(
        lambda x: {"difference": x["seat"] - x["arbor"]},
        [seat, ARBOR],
        units={"difference": "mm"},
    )
    assert run["difference"].u < 1e-14 < run["seat"].u
    assert run.disagreements == ()


def test_exact_outputs_do_not_disagree() -> None:
    run = evaluate(lambda x: {"y": 2 * x["x"]}, [Quantity(label="x", value=0.1)], units={"y": "1"})
    assert run.disagreements == ()
    assert (run["y"].low, run["y"].high, run["y"].dof) == (0.2, 0.2, math.inf)


def test_neither_import_nor_first_order_loads_numpy() -> None:
    script = (
        "import sys; from gaugelink.uncertainty.first_order import propagate;"
        "from gaugelink.uncertainty.estimate import quantity_from_typed;"
        "(y,) = propagate(lambda x: {'y': 2 * x['x']}, [quantity_from_typed('x', 1.0, 0.5)]);"
        "assert y.u == 1.0; sys.exit('numpy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0


def test_u_of_an_output_that_bends_is_that_of_the_draws() -> None:
    """x^2 at 0, u 1: first order says 0, a chi-square of one degree has a u of sqrt(2)."""
    x = single("x", 0.0, 1.0)
    plain, bent = (
        evaluate(lambda v: {"y": v["x"] ** 2}, [x], units={"y": "1"}, draws=100_000, bends=bends)[
            "y"
        ]
        for bends in ((), ("y",))
    )
    assert plain.u == 0.0
    assert bent.u == pytest.approx(math.sqrt(2), rel=0.03)
    assert (bent.low, bent.high) == (plain.low, plain.high)


@pytest.mark.parametrize("dof", [1.0, 2.0])
def test_tails_without_a_variance_leave_a_finite_u_beside_their_interval(dof: float) -> None:
    """A t distribution of two degrees of freedom has none: u of the normal of that interval."""
    tails = Influence(label="x", kind="A", u=1.0, shape=Shape.STUDENT, dof=dof)
    x = Quantity(label="x", value=5.0, terms=(Term(influence=tails),))
    drawn = evaluate(
        lambda v: {"y": v["x"] ** 2}, [x], units={"y": "1"}, draws=100_000, bends=("y",)
    )["y"]
    assert drawn.u == pytest.approx((drawn.high - drawn.low) / (2 * 1.959964), rel=1e-6)
    assert math.isfinite(drawn.u)
