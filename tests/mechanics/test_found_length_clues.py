"""Clues that contradict one another, or themselves."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from coiled_spring import CLUES, clue
from scipy.stats import chi2

from gaugelink.errors import SizingError
from gaugelink.mechanics.found_length import (
    _CHI_SQUARED_95,
    CLOSE,
    LengthClues,
    Method,
    find_length,
    length_from_mass,
)
from gaugelink.uncertainty.estimate import Quantity


@pytest.mark.parametrize(
    ("changes", "disagree"),
    [
        ({}, False),
        ({"mass": clue("mass", 525.9 * 0.9, 1.0)}, True),
        ({"coils": clue("coils", 10.672, 0.15)}, True),
        ({"density": clue("density", 7.85, 0.08)}, True),
    ],
)
def test_ways_that_disagree_are_told(changes: dict[str, Quantity], disagree: bool) -> None:
    found = find_length(replace(CLUES, **changes))  # type: ignore[arg-type]
    assert [one.code for one in found.advice] == ["lengths-disagree"] * disagree


def test_methods_without_any_uncertainty_are_averaged_and_told_apart() -> None:
    exact = LengthClues(
        thickness=clue("e", 0.12, 0.0),
        bore=clue("bore", 11.0, 0.0),
        band_inside=clue("band", 8.199, 0.0),
        coils=clue("coils", 11.0, 0.0),
        packing=CLOSE,
    )
    found = find_length(exact)
    assert [one.weight for one in found.methods] == pytest.approx([0.5, 0.5])
    assert (found.u_mm, found.length.terms, found.chi_squared) == (0.0, (), math.inf)
    assert [one.code for one in found.advice] == ["lengths-disagree"]


@pytest.mark.parametrize("dof", _CHI_SQUARED_95)
def test_limits_of_disagreement_are_the_upper_five_per_cent(dof: int) -> None:
    assert _CHI_SQUARED_95[dof] == pytest.approx(chi2.ppf(0.95, dof), abs=6e-4)


def test_limits_reach_to_all_methods() -> None:
    assert max(_CHI_SQUARED_95) == len(Method) - 1


def test_clues_for_no_method_are_refused() -> None:
    with pytest.raises(SizingError) as refused:
        find_length(LengthClues(thickness=CLUES.thickness, mass=CLUES.mass))
    assert "count its coils" in refused.value.hint


@pytest.mark.parametrize(
    ("changes", "inputs"),
    [
        ({"coils": clue("coils", 0.0, 0.1)}, ("coils",)),
        ({"thickness": clue("e", -0.1, 0.01)}, ("thickness",)),
        ({"band_inside": clue("band", 11.5, 0.05)}, (Method.BAND,)),
        ({"coils": clue("coils", 100.0, 0.1)}, (Method.COILS,)),
    ],
)
def test_impossible_clues_are_refused(
    changes: dict[str, Quantity], inputs: tuple[str, ...]
) -> None:
    with pytest.raises(SizingError) as refused:
        find_length(replace(CLUES, **changes))  # type: ignore[arg-type]
    assert refused.value.inputs == inputs


def test_single_method_keeps_its_own_value() -> None:
    found = find_length(replace(CLUES, bore=None, core=None), label="x")
    assert found.length.label == "x"
    assert found.length.value == pytest.approx(length_from_mass(525.9, 8.3, 1.5, 0.12))
    assert found.methods[0].weight == pytest.approx(1.0)
    assert found.chi_squared == pytest.approx(0.0)
