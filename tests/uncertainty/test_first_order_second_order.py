"""Second-order terms against published examples, exact variances and their own limits."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pytest
from published import dof_of, load, mass_model, mass_quantities, single

from gaugelink.uncertainty.estimate import Influence, Quantity, Term
from gaugelink.uncertainty.first_order import SecondOrder, propagate, second_order


def only(result: tuple[SecondOrder | None, ...]) -> SecondOrder:
    (output,) = result
    assert output is not None
    return output


def h1_quantities(example: dict[str, Any]) -> list[Quantity]:
    terms: dict[str, list[Term]] = {label: [] for label in example["estimates"]}
    for e in example["influences"]:
        influence = Influence(label=e["label"], kind=e["kind"], u=e["u"], dof=dof_of(e))
        terms[e["quantity"]].append(Term(influence=influence))
    return [
        Quantity(label=label, value=value, unit="nm", terms=tuple(terms[label]))
        for label, value in example["estimates"].items()
    ]


def h1_model(x: Mapping[str, Any]) -> dict[str, Any]:
    expansion = x["dalpha"] * x["theta"] + x["alpha_S"] * x["dtheta"]
    return {"l": x["l_S"] + x["d"] - x["l_S"] * expansion}


def test_gum_h17_two_terms_of_the_gauge_block() -> None:
    example = load("gum_h1")
    output = only(second_order(h1_model, h1_quantities(example)))
    for source in ("published", "unrounded"):
        expected = example[source]["second_order"]
        tolerance = 0.05 if source == "published" else 1e-3
        for pair, nm in expected["terms_nm"].items():
            first, second = pair.split(", ")
            # theta has two influences, its mean and its cycle
            found = [
                t.variance
                for t in output.terms
                if sorted((t.first.split()[0], t.second.split()[0])) == sorted((first, second))
            ]
            assert math.sqrt(math.fsum(found)) == pytest.approx(nm, abs=tolerance), pair
    assert round(output.u) == example["published"]["second_order"]["u_c_nm"]
    assert output.u == pytest.approx(example["unrounded"]["second_order"]["u_c_nm"], abs=5e-3)
    assert output.u_first == pytest.approx(example["unrounded"]["u_c_nm"], abs=1e-6)
    assert output.matters


def test_mass_calibration_to_higher_order() -> None:
    example = load("gum_s1_mass")  # JCGM 101, 9.3
    output = only(second_order(mass_model, mass_quantities()))
    published = example["published"]["higher_order"]
    assert output.value + output.shift == pytest.approx(published["value"], abs=0.0005)
    # Differences over plus and minus u, 7 % of rho_W, hold a little of the orders beyond:
    # 0.07515, between the derivatives' 0.07496 and the exact standard deviation 0.07548.
    assert output.u == pytest.approx(published["u"], abs=2e-4)
    recomputed = example["recomputed"]
    assert recomputed["higher_order_u"] < output.u < recomputed["std"]
    low, high = output.value - 1.959964 * output.u, output.value + 1.959964 * output.u
    assert (low, high) == pytest.approx((published["low"], published["high"]), abs=4e-4)


@pytest.mark.parametrize("case", load("gum_s1_comparison_loss")["cases"], ids=lambda c: c["x1"])
def test_comparison_loss_is_exact_to_second_order(case: dict[str, Any]) -> None:
    u = load("gum_s1_comparison_loss")["u"]  # JCGM 101, 9.4: a quadratic of normal inputs
    output = only(
        second_order(
            lambda x: {"loss": x["x1"] ** 2 + x["x2"] ** 2},
            [single("x1", case["x1"], u), single("x2", 0.0, u)],
        )
    )
    assert output.value + output.shift == pytest.approx(case["x1"] ** 2 + 2 * u**2)
    assert output.u == pytest.approx(math.sqrt(4 * (case["x1"] * u) ** 2 + 4 * u**4))
    assert (output.value + output.shift) * 1e6 == pytest.approx(
        case["monte_carlo"]["mean"], abs=1.5
    )
    assert output.u * 1e6 == pytest.approx(case["monte_carlo"]["std"], abs=0.6)


# Variances of normal inputs to the order u^4, by their moments: E x^4 = 3 u^4, E x^6 = 15 u^6.
EXACT = [
    (lambda x: x["x"] ** 3, 9 * 2.0**4 * 0.05**2 + 36 * 2.0**2 * 0.05**4),
    (lambda x: x["x"] * x["y"], (0.05 * 3.0) ** 2 + (0.04 * 2.0) ** 2 + (0.05 * 0.04) ** 2),
    (
        lambda x: x["x"] * x["y"] ** 2,
        (0.05 * 9.0) ** 2
        + (2 * 2.0 * 3.0 * 0.04) ** 2
        + (2 * 3.0 * 0.05 * 0.04) ** 2  # f_xy
        + 9.0 * 2 * (0.05 * 0.04) ** 2  # f_x f_xyy
        + 2 * 2.0**2 * 0.04**4,  # f_yy
    ),
]


@pytest.mark.parametrize(("model", "variance"), EXACT)
def test_variance_to_the_fourth_order_of_u(model: Any, variance: float) -> None:
    quantities = [single("x", 2.0, 0.05), single("y", 3.0, 0.04)]
    output = only(second_order(lambda x: {"f": model(x)}, quantities))
    first = propagate(lambda x: {"f": model(x)}, quantities)[0].u ** 2
    assert output.u_first**2 == pytest.approx(first)
    assert output.u**2 - first == pytest.approx(variance - first, rel=0.01, abs=1e-9)
    assert math.fsum(t.variance for t in output.terms) <= output.u**2


def test_a_linear_model_has_no_second_order() -> None:
    quantities = [single("x", 11.0, 0.5), single("y", 3.0, 0.4)]
    output = only(second_order(lambda x: {"f": 2 * x["x"] - x["y"]}, quantities))
    assert output.shift == pytest.approx(0.0, abs=1e-12)
    assert output.u == pytest.approx(output.u_first)
    assert output.terms == ()
    assert not output.matters


@pytest.mark.parametrize("value", [11.02, 3.7, 0.137])
def test_what_cancels_but_for_rounding_does_not_matter(value: float) -> None:
    output = only(
        second_order(lambda x: {"c": (x["x"] + 0.1) * 3 - 3 * x["x"]}, [single("x", value, 0.03)])
    )
    assert output.u_first < 1e-14
    assert not output.matters


def test_an_output_without_a_value_near_by_has_none() -> None:
    # 10.0 - 2 u leaves the root's domain, 10.0 - u does not
    root, plain = second_order(
        lambda x: {"root": (x["x"] - 9.9) ** 0.5, "plain": x["x"]}, [single("x", 10.0, 0.06)]
    )
    assert root is None
    assert plain is not None


def test_exact_inputs_and_constants_have_none() -> None:
    quantities = [Quantity(label="x", value=2.0)]
    square, constant = second_order(lambda x: {"y": x["x"] ** 2, "c": 7.0}, quantities)
    assert square == SecondOrder(output="y", value=4.0, u_first=0.0, u=0.0, shift=0.0, terms=())
    assert constant is not None
    assert (constant.value, constant.matters) == (7.0, False)
