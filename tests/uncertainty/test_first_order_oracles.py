"""Random models with shared influences, against two independent implementations."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from typing import Any

import GTC
import pytest
import uncertainties
from published import correlation

from gaugelink.uncertainty.estimate import Influence, Quantity, Term
from gaugelink.uncertainty.first_order import propagate


def random_quantities(rng: random.Random) -> list[Quantity]:
    """Three quantities about ten over five influences, each influence in about half of them."""
    influences = [
        Influence(
            label=f"e{i}", kind="B", u=rng.uniform(1e-5, 1e-4), dof=rng.choice([3, 9, math.inf])
        )
        for i in range(5)
    ]
    return [
        Quantity(
            label=label,
            value=rng.uniform(5.0, 15.0),
            terms=tuple(
                Term(influence=i, factor=rng.uniform(-2.0, 2.0))
                for i in influences
                if rng.random() < 0.5
            ),
        )
        for label in ("a", "b", "c")
    ]


def model(x: Any) -> dict[str, Any]:
    """Nonlinear, in operators that floats and both oracles understand."""
    ring = x["a"] * x["a"] - x["b"] * x["b"] / 9.0
    return {"length": ring / x["c"], "turns": (ring + x["c"]) ** 0.5 - x["a"] / x["c"]}


def with_oracle(
    quantities: list[Quantity], make: Callable[[Influence | None, float], Any]
) -> dict[str, Any]:
    """Build the same quantities out of an oracle's own uncertain numbers."""
    made: dict[str, Any] = {}
    values: dict[str, Any] = {}
    for quantity in quantities:
        total = make(None, quantity.value)
        for term in quantity.terms:
            influence = term.influence
            if influence.label not in made:
                made[influence.label] = make(influence, 0.0)
            total = total + term.factor * made[influence.label]
        values[quantity.label] = total
    return model(values)


@pytest.mark.parametrize("seed", range(20))
def test_agrees_with_uncertainties(seed: int) -> None:
    quantities = random_quantities(random.Random(seed))
    oracle = with_oracle(
        quantities, lambda i, value: uncertainties.ufloat(value, i.u) if i else value
    )
    ours = propagate(model, quantities)
    for output in ours:
        expected = oracle[output.label]
        assert output.value == pytest.approx(uncertainties.nominal_value(expected))
        assert output.u == pytest.approx(uncertainties.std_dev(expected), rel=1e-7)
    if all(output.u for output in ours):
        matrix = uncertainties.correlation_matrix([oracle[output.label] for output in ours])
        assert correlation(*ours) == pytest.approx(matrix[0][1], abs=1e-7)


@pytest.mark.parametrize("seed", range(20))
def test_agrees_with_gtc(seed: int) -> None:
    quantities = random_quantities(random.Random(seed))
    oracle = with_oracle(
        quantities, lambda i, value: GTC.ureal(value, i.u, i.dof) if i else GTC.constant(value)
    )
    for output in propagate(model, quantities):
        expected = oracle[output.label]
        assert output.u == pytest.approx(GTC.uncertainty(expected), rel=1e-7)
        assert output.dof == pytest.approx(GTC.dof(expected), rel=1e-6)
