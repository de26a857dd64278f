"""Fill and length: what is free, and what a longer spring is cut to."""

from __future__ import annotations

import math

import numpy as np
import pytest
from choosing_bench import DOCUMENTED, given, job, spring
from score_oracle import State, usable

from gaugelink.choosing.case import prepare
from gaugelink.choosing.measures import fill_of
from gaugelink.mechanics.materials import material_named
from gaugelink.sizing.inputs import GivenSpring

RING = math.pi * (11.0**2 - 3.67**2) / 4


def test_a_reference_with_a_length_sets_the_target() -> None:
    zone = prepare(job(documented=DOCUMENTED), []).zone
    assert zone.target == pytest.approx(350 * 0.12 / RING)
    assert zone.low == pytest.approx(0.9 * zone.target)
    assert zone.high == 0.62  # common practice, wider than a tenth here


def test_a_reference_far_from_half_fill_widens_the_free_zone() -> None:
    zone = prepare(job(documented=given(0.12, 1.5, 290.0)), []).zone
    assert zone.low == pytest.approx(0.9 * 290 * 0.12 / RING)
    assert zone.high == 0.62
    zone = prepare(job(documented=given(0.12, 1.5, 420.0)), []).zone
    assert zone.low == 0.45
    assert zone.high == pytest.approx(1.1 * 420 * 0.12 / RING)


@pytest.mark.parametrize(
    ("name", "modulus_mpa", "stress_mpa"),
    [("high-strength-cobalt", 215_500.0, 3216.0), ("carbon-steel", 204_000.0, 2211.0)],
)
def test_without_a_length_the_target_gives_most_usable_turns(
    name: str, modulus_mpa: float, stress_mpa: float
) -> None:
    """Against a slow search at D/e 87, at the mean of each lognormal of materials.toml."""
    e, fills = 11.0 / 87, [part / 200 for part in range(85, 130)]
    state = State(
        bore=11.0,
        arbor=3.67,
        limit=1.51,
        e_ref=e,
        h_ref=None,
        length_ref=None,
        stress=stress_mpa,
        modulus=modulus_mpa,
    )
    most = max(fills, key=lambda part: usable(state, e, part * RING / e, stress_mpa))
    target = prepare(job(material=material_named(name)), []).zone.target
    assert target == pytest.approx(most, abs=0.005)
    assert fills[0] < most < fills[-1]


@pytest.mark.parametrize(
    ("length", "cut"),
    [(340.0, False), (440.0, False), (460.0, False), (470.0, True), (700.0, True)],
)
def test_a_spring_is_cut_where_that_costs_less(length: float, cut: bool) -> None:
    # The free zone ends at 0.62, 436 mm; 3 points for the cut are worth 6 % of overlength.
    case = prepare(job(documented=DOCUMENTED), [spring(0.12, length=length)])
    assert case.fitted.cut[0] == cut
    fitted = case.fitted.springs.length_mm[0]
    if not cut:
        assert fitted == length
    else:
        assert fitted == 350.0  # to the fill of the documented one, in steps of 5 mm


@pytest.mark.parametrize(
    ("documented", "length"),
    [
        (DOCUMENTED, 350.0),
        (given(0.12, 1.5, 330.0), 330.0),
        (given(0.12, 1.5), 355.0),  # 0.508 of the ring, 357 mm: most usable turns
        (given(0.12), 355.0),
    ],
)
def test_a_document_without_a_length_is_cut_to_the_most_turns(
    documented: GivenSpring, length: float
) -> None:
    """Not to half the ring, 352 mm or 350 in steps, which stands in for its length elsewhere."""
    found = given(0.12, 1.5, 310.0, name="found")
    inputs = job(documented=documented, found=found)
    for whole in (500.0, 600.0):
        case = prepare(inputs, [spring(0.12, length=whole)])
        assert case.fitted.springs.length_mm[0] == length


def test_what_does_not_even_go_into_the_barrel_is_cut_to_go() -> None:
    case = prepare(job(documented=DOCUMENTED), [spring(0.12, length=2000.0)])
    fill = fill_of(case.known.best, case.fitted.springs)
    assert np.all(fill <= case.zone.target)
    assert not case.judged.refused[0]
