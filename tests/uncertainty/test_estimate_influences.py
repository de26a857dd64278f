from __future__ import annotations

import pytest
from published import single

from gaugelink.uncertainty.estimate import (
    Influence,
    Quantity,
    Term,
    factor_of,
    independent_influences,
    moved_values,
)

GAUGE = Influence(label="gauge error", kind="B", u=0.01)
BORE = Quantity(label="bore", value=11.0, terms=(Term(influence=GAUGE),))
DEPTH = Quantity(label="depth", value=2.0, terms=(Term(influence=GAUGE, factor=-2.0),))


def test_a_shared_influence_is_collected_once() -> None:
    assert independent_influences((BORE, DEPTH)) == (GAUGE,)


def test_an_equal_influence_built_twice_is_the_same_one() -> None:
    twin = Quantity(
        label="depth",
        value=2.0,
        terms=(Term(influence=Influence(label="gauge error", kind="B", u=0.01)),),
    )
    assert len(independent_influences((BORE, twin))) == 1


def test_an_influence_without_uncertainty_is_left_out() -> None:
    assert independent_influences((single("clearance", 0.1, 0.0),)) == ()


def test_two_meanings_of_one_label_are_refused() -> None:
    other = Influence(label="gauge error", kind="B", u=0.02)
    lid = Quantity(label="lid", value=0.4, terms=(Term(influence=other),))
    with pytest.raises(ValueError, match="'gauge error'"):
        independent_influences((BORE, lid))


def test_two_quantities_of_one_label_are_refused() -> None:
    with pytest.raises(ValueError, match="same label"):
        independent_influences((BORE, BORE))


def test_one_influence_moves_every_quantity_that_holds_it() -> None:
    moved = moved_values((BORE, DEPTH, single("lid", 0.4, 0.1)), GAUGE, 0.01)
    assert moved == {"bore": 11.01, "depth": 1.98, "lid": 0.4}


def test_factors_of_repeated_terms_add() -> None:
    twice = Quantity(label="x", value=1.0, terms=(*BORE.terms, *DEPTH.terms))
    assert factor_of(twice, GAUGE) == -1.0
