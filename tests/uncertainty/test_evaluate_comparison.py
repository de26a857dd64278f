"""When the two routes disagree, and when that means something."""

from __future__ import annotations

from typing import Any

import pytest
from published import load, mass_model, mass_quantities, single

from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term
from gaugelink.uncertainty.evaluate import Evaluation, evaluate

DRAWS = 100_000


def student(u: float, dof: float) -> Influence:
    return Influence(label="scatter", kind="A", u=u, shape=Shape.STUDENT, dof=dof)


def linear_run(scatter: Influence, gauge_u: float) -> Evaluation:
    gauge = Influence(label="gauge", kind="B", u=gauge_u, shape=Shape.RECTANGULAR)
    bore = Quantity(
        label="bore", value=11.0, terms=(Term(influence=scatter), Term(influence=gauge))
    )
    return evaluate(lambda x: {"y": 2 * x["bore"]}, [bore], units={"y": "mm"}, draws=DRAWS)


@pytest.mark.parametrize("dof", [2, 4, 9])
@pytest.mark.parametrize("gauge_u", [0.0005, 0.002, 0.004, 0.0095])
def test_shapes_alone_are_not_spoken_of(dof: float, gauge_u: float) -> None:
    assert linear_run(student(0.004, dof), gauge_u).disagreements == ()


def test_the_bare_verdict_of_clause_8_depends_on_the_leading_digit() -> None:
    # The same budget at two scales: u is 0.0057 mm with a tolerance of 0.0005, and 0.0113
    # with 0.005; the end points are apart by 0.2 u in both.
    small, large = linear_run(student(0.002, 4), 0.002), linear_run(student(0.004, 4), 0.004)
    assert [run.comparisons[0].validated for run in (small, large)] == [False, True]
    assert not any(run.comparisons[0].bends for run in (small, large))


@pytest.mark.parametrize("u", [0.001, 0.0023, 0.004, 0.0065])
def test_three_readings_beside_a_gauge_error_always_fail_clause_8(u: float) -> None:
    run = linear_run(student(u, 2), u)
    assert not run.comparisons[0].validated
    assert run.disagreements == ()


@pytest.mark.parametrize("case", load("gum_s1_comparison_loss")["cases"], ids=lambda c: c["x1"])
def test_comparison_loss_is_validated_nowhere(case: dict[str, Any]) -> None:
    example = load("gum_s1_comparison_loss")  # JCGM 101, 9.4, table 6
    run = evaluate(
        lambda x: {"loss": x["x1"] ** 2 + x["x2"] ** 2},
        [single("x1", case["x1"], example["u"]), single("x2", 0.0, example["u"])],
        units={"loss": "1"},
    )
    (comparison,) = run.comparisons
    assert comparison.validated is example["published_validated_at_one_digit"]
    assert [d.output for d in run.disagreements] == ["loss"]


def test_a_product_of_two_influences_is_spoken_of() -> None:
    run = evaluate(mass_model, mass_quantities(), units={"dm": "mg"}, draws=DRAWS)
    assert [d.output for d in run.disagreements] == ["dm"]
    (second,) = run.second_order
    assert second is not None
    assert second.u > 1.3 * second.u_first


def test_a_model_without_a_value_near_by_is_left_to_clause_8() -> None:
    def root(x: Any) -> dict[str, Any]:
        return {"root": (x["x"] - 9.9) ** 0.5}

    run = evaluate(root, [single("x", 10.0, 0.09)], units={"root": "1"}, draws=DRAWS)
    assert run.second_order == (None,)
    assert [d.output for d in run.disagreements] == ["root"]


def test_a_bend_too_small_to_move_the_ends_is_not_spoken_of() -> None:
    # the torque of a spring 2 % uncertain in thickness
    run = evaluate(
        lambda x: {"torque": x["e"] ** 3},
        [single("e", 0.12, 0.0024)],
        units={"torque": "mm3"},
        draws=DRAWS,
    )
    (second,) = run.second_order
    assert second is not None
    assert 0.01 < second.shift / second.u_first < 0.05
    assert not second.matters
    assert run.disagreements == ()
