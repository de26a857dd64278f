from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any, ClassVar

import pytest
from published import correlation, dof_of, load, mass_model, mass_quantities, single

from gaugelink.errors import SizingError
from gaugelink.sizing.inputs import GivenSpring, SizingInputs
from gaugelink.sizing.inputs import quantities as quantities_of
from gaugelink.sizing.measurement_model import measurement_model
from gaugelink.sizing.rules import rules_for
from gaugelink.uncertainty.coverage import coverage_factor
from gaugelink.uncertainty.estimate import Influence, Model, Quantity, Shape, Term
from gaugelink.uncertainty.first_order import propagate


def gum_h1_quantities(example: dict[str, Any]) -> list[Quantity]:
    terms: dict[str, list[Term]] = {label: [] for label in example["estimates"]}
    for entry in example["influences"]:
        influence = Influence(
            label=entry["label"], kind=entry["kind"], u=entry["u"], dof=dof_of(entry)
        )
        terms[entry["quantity"]].append(Term(influence=influence))
    return [
        Quantity(label=label, value=value, unit="nm", terms=tuple(terms[label]))
        for label, value in example["estimates"].items()
    ]


def gum_h1_model(x: Mapping[str, Any]) -> dict[str, Any]:
    expansion = x["dalpha"] * x["theta"] + x["alpha_S"] * x["dtheta"]
    return {"l": x["l_S"] + x["d"] - x["l_S"] * expansion, "d alone": x["d"]}


class TestGumH1:
    example = load("gum_h1")
    published = example["published"]
    length, comparator = propagate(gum_h1_model, gum_h1_quantities(example))

    def test_length_and_combined_uncertainty(self) -> None:
        unrounded = self.example["unrounded"]
        assert self.length.value == self.published["l_nm"]
        assert round(self.length.u) == self.published["u_c_nm"]
        assert self.length.u == pytest.approx(unrounded["u_c_nm"], abs=1e-8)
        assert self.length.dof == pytest.approx(unrounded["nu_eff"], abs=1e-6)
        assert int(self.length.dof) == self.published["nu_eff_truncated"]

    def test_expanded_uncertainty(self) -> None:
        k_99 = coverage_factor(0.99, self.length.dof)
        assert k_99 == pytest.approx(self.published["k_99"], abs=0.005)
        assert k_99 * self.published["u_c_nm"] == pytest.approx(self.published["U_99_nm"], abs=0.5)
        assert coverage_factor(0.95, self.length.dof) == pytest.approx(
            self.published["k_95"], abs=0.005
        )

    @pytest.mark.parametrize("quantity", published["contributions_nm"])
    def test_contribution_of_each_input(self, quantity: str) -> None:
        labels = {e["label"] for e in self.example["influences"] if e["quantity"] == quantity}
        contribution = math.hypot(
            *(row.contribution for row in self.length.rows if row.influence in labels)
        )
        assert contribution == pytest.approx(self.published["contributions_nm"][quantity], abs=0.05)

    def test_comparator_reading_of_three_influences(self) -> None:
        assert self.comparator.u == pytest.approx(9.7, abs=0.05)
        # 25.6 is printed; 25.4 follows from the unrounded inputs
        assert self.comparator.dof == pytest.approx(self.published["dof_of_d"], abs=0.2)


def gum_h2_quantities(sets: list[dict[str, float]]) -> list[Quantity]:
    """Five simultaneous sets as five shared influences.

    Set k moves V, I and phi together along its own deviation from the means; the sum over
    the sets of deviation x deviation / (n (n - 1)) is the covariance of the means, GUM (17).
    """
    n = len(sets)
    influences = [Influence(label=f"set {k}", kind="A", u=1.0) for k in range(n)]
    quantities = []
    for label in sets[0]:
        column = [entry[label] for entry in sets]
        mean = math.fsum(column) / n
        terms = tuple(
            Term(influence=influence, factor=(x - mean) / math.sqrt(n * (n - 1)))
            for influence, x in zip(influences, column, strict=True)
        )
        quantities.append(Quantity(label=label, value=mean, terms=terms))
    return quantities


def gum_h2_model(x: Mapping[str, Any]) -> dict[str, Any]:
    impedance = x["V_V"] / (x["I_mA"] * 1e-3)
    ratio = cmath.rect(impedance, x["phi_rad"])
    outputs = {"R": ratio.real, "X": ratio.imag, "Z": impedance}
    return outputs | {"V": x["V_V"], "I": x["I_mA"], "phi": x["phi_rad"]}


class TestGumH2:
    example = load("gum_h2")
    outputs: ClassVar = {
        y.label: y for y in propagate(gum_h2_model, gum_h2_quantities(example["sets"]))
    }

    @pytest.mark.parametrize("label", ["R", "X", "Z"])
    def test_value_and_uncertainty(self, label: str) -> None:
        published = self.example["published"][label]
        assert self.outputs[label].value == pytest.approx(published["value"], abs=0.0005)
        assert self.outputs[label].u == pytest.approx(published["u"], abs=0.0006)

    @pytest.mark.parametrize("pair", example["published"]["r"])
    def test_correlation(self, pair: str) -> None:
        first, second = (self.outputs[label] for label in pair.split(","))
        published = self.example["published"]["r"][pair]
        digits = len(str(published).partition(".")[2])
        assert correlation(first, second) == pytest.approx(published, abs=0.51 * 10**-digits)

    @pytest.mark.parametrize("label", ["R", "X", "Z"])
    def test_it_is_the_sharing_that_brings_the_correlation(self, label: str) -> None:
        own = [
            single(name, self.outputs[short].value, self.outputs[short].u)
            for name, short in (("V_V", "V"), ("I_mA", "I"), ("phi_rad", "phi"))
        ]
        uncorrelated = {y.label: y.u for y in propagate(gum_h2_model, own)}
        assert uncorrelated[label] == pytest.approx(
            self.example["ignoring_correlation"][label], rel=1e-5
        )


def test_mass_calibration_to_first_order() -> None:
    example = load("gum_s1_mass")  # JCGM 101, 9.3
    (output,) = propagate(mass_model, mass_quantities())
    published = example["published"]["first_order"]
    assert output.value == pytest.approx(published["value"], abs=0.00005)
    assert output.u == pytest.approx(published["u"], abs=0.00005)
    assert math.isinf(output.dof)


@pytest.mark.parametrize("case", load("gum_s1_comparison_loss")["cases"], ids=lambda c: c["x1"])
def test_comparison_loss_to_first_order(case: dict[str, Any]) -> None:
    u = load("gum_s1_comparison_loss")["u"]  # JCGM 101, 9.4
    quantities = [single("x1", case["x1"], u), single("x2", 0.0, u)]
    (output,) = propagate(lambda x: {"loss": x["x1"] ** 2 + x["x2"] ** 2}, quantities)
    assert output.value == pytest.approx(case["first_order"]["value"] * 1e-6)
    assert output.u == pytest.approx(case["first_order"]["u"] * 1e-6, abs=1e-12)


def test_bore_minus_depth_cancels_the_shared_gauge_error() -> None:
    gauge = Influence(label="caliper error", kind="B", u=0.0115, shape=Shape.RECTANGULAR)
    own = Influence(label="bore repeatability", kind="A", u=0.003, dof=4)
    bore = Quantity(label="bore", value=11.02, terms=(Term(influence=own), Term(influence=gauge)))
    depth = Quantity(label="depth", value=2.3, terms=(Term(influence=gauge),))
    difference, total = propagate(
        lambda x: {"difference": x["bore"] - x["depth"], "total": x["bore"] + x["depth"]},
        [bore, depth],
    )
    assert difference.u == pytest.approx(0.003, abs=1e-14)
    assert difference.dof == pytest.approx(4.0)
    assert total.u == pytest.approx(math.hypot(0.003, 2 * 0.0115))
    assert correlation(difference, total) == pytest.approx(0.003 / total.u)


def test_shares_add_up_and_an_unused_influence_has_none() -> None:
    quantities = [single("a", 2.0, 0.1), single("b", 3.0, 0.2), single("unused", 1.0, 0.3)]
    (output,) = propagate(lambda x: {"ab": x["a"] * x["b"]}, quantities)
    shares = {row.influence: row.share for row in output.rows}
    assert math.fsum(shares.values()) == pytest.approx(1.0)
    assert shares["e(a)"] == pytest.approx(0.3**2 / (0.3**2 + 0.4**2))
    assert shares["e(unused)"] == 0.0


def test_rows_carry_sign_kind_and_dof() -> None:
    own = Influence(label="scatter", kind="A", u=0.5, dof=7)
    (output,) = propagate(
        lambda x: {"y": -3.0 * x["x"]},
        [Quantity(label="x", value=1.0, terms=(Term(influence=own),))],
    )
    (row,) = output.rows
    assert (row.output, row.influence, row.kind, row.u, row.dof) == ("y", "scatter", "A", 0.5, 7)
    assert row.sensitivity == pytest.approx(-3.0)
    assert row.contribution == pytest.approx(1.5)


def test_exact_inputs_give_an_exact_output() -> None:
    quantity = Quantity(label="x", value=2.0)
    output, constant = propagate(lambda x: {"y": x["x"] ** 2, "c": 1.0}, [quantity])
    assert (output.u, output.dof, output.rows) == (0.0, math.inf, ())
    assert correlation(output, constant) == 0.0


@pytest.mark.parametrize(
    ("model", "what"),
    [
        (lambda x: {"turns": (x["bore"] - 12.0) ** 0.5}, "turns"),
        (lambda x: {"turns": math.inf * x["bore"]}, "turns"),
        (lambda x: {"turns": 1.0 / (x["bore"] - 11.0)}, "The model"),
    ],
)
def test_no_value_at_the_best_values(model: Model, what: str) -> None:
    with pytest.raises(SizingError, match=rf"^{what} has no value at bore = 11\.$") as caught:
        propagate(model, [single("bore", 11.0, 0.02)])
    assert caught.value.inputs == ("bore",)


def sizing_job() -> tuple[Model, tuple[Quantity, ...]]:
    """A barrel with a found spring: every influence shape, a shared one, an exact input."""
    gauge = Influence(label="caliper error", kind="B", u=0.0115, shape=Shape.RECTANGULAR)
    scatter = Influence(label="bore readings", kind="A", u=0.02, shape=Shape.STUDENT, dof=4)
    shared = (Term(influence=gauge),)
    inputs = SizingInputs(
        bore=Quantity(label="bore", value=11.02, terms=(Term(influence=scatter), *shared)),
        depth=Quantity(label="depth", value=2.31, terms=shared),
        lid=single("lid", 0.412, 0.003),
        arbor=Quantity(label="arbor", value=3.68, terms=(Term(influence=gauge, factor=-1.0),)),
        found=GivenSpring(
            thickness=single("found.thickness", 0.125, 0.002),
            height=Quantity(label="found.height", value=1.605),
            length=single("found.length", 340.0, 6.0),
        ),
        hours_per_turn=7.5,
    )
    return measurement_model(inputs, rules_for(None)), quantities_of(inputs)


def gum_h1_job() -> tuple[Model, list[Quantity]]:
    return gum_h1_model, gum_h1_quantities(load("gum_h1"))


@pytest.mark.parametrize("job", [sizing_job, gum_h1_job])
def test_all_influences_at_once_give_what_each_by_itself_gives(
    job: Callable[[], tuple[Model, Sequence[Quantity]]],
) -> None:
    model, quantities = job()
    once, alone = propagate(model, quantities, takes_arrays=True), propagate(model, quantities)
    for output, same in zip(once, alone, strict=True):
        # A difference of two values is as good as their last bits.
        last_bits = 8 * math.ulp(same.value)
        assert output.label == same.label
        assert output.value == pytest.approx(same.value, rel=1e-12)
        assert output.u == pytest.approx(same.u, rel=1e-12, abs=last_bits)
        for row, own in zip(output.rows, same.rows, strict=True):
            assert row.influence == own.influence
            assert row.sensitivity * row.u == pytest.approx(
                own.sensitivity * own.u, rel=1e-12, abs=last_bits
            )


def test_a_model_that_takes_arrays_is_asked_once() -> None:
    calls = []

    def model(x: Mapping[str, Any]) -> dict[str, Any]:
        calls.append(x)
        return {"product": x["a"] * x["b"] * x["c"], "one": 1.0}

    quantities = [single("a", 2.0, 0.1), single("b", 3.0, 0.2), single("c", 4.0, 0.3)]
    product, one = propagate(model, quantities, takes_arrays=True)
    assert len(calls) == 1
    assert [row.sensitivity for row in product.rows] == pytest.approx([12.0, 8.0, 6.0])
    assert (one.value, one.u) == (1.0, 0.0)


@pytest.mark.parametrize("takes_arrays", [False, True])
def test_either_route_blames_the_quantity_that_was_moved(takes_arrays: bool) -> None:
    quantities = [single("bore", 11.01, 0.02), single("arbor", 3.7, 0.02)]
    with pytest.raises(SizingError, match=r"fill has no value at bore = 10\.99\.") as caught:
        propagate(
            lambda x: {"fill": (x["bore"] - 11.0) ** 0.5 + x["arbor"]},
            quantities,
            takes_arrays=takes_arrays,
        )
    assert caught.value.inputs == ("bore",)


def test_correlation_of_outputs_of_different_runs_is_refused() -> None:
    (one,) = propagate(lambda x: {"y": x["a"]}, [single("a", 1.0, 0.1)])
    (other,) = propagate(lambda x: {"y": x["b"]}, [single("b", 1.0, 0.1)])
    with pytest.raises(ValueError, match="one run"):
        correlation(one, other)


def test_correlation_matrix_is_symmetric_with_unit_diagonal() -> None:
    quantities = [single("a", 2.0, 0.1), single("b", 3.0, 0.2)]
    outputs = propagate(
        lambda x: {"sum": x["a"] + x["b"], "product": x["a"] * x["b"], "a": x["a"]}, quantities
    )
    for first, second in itertools.combinations_with_replacement(outputs, 2):
        r = correlation(first, second)
        assert r == pytest.approx(correlation(second, first))
        assert r == pytest.approx(1.0) if first is second else 0.0 < r < 1.0
