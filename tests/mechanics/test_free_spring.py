"""The free spring against fixtures/reference/mechanics_strength.json and against drawn outlines."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from free_shape_oracle import elements_mm, even_free_curvature_per_mm
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from watch_springs import healthy, random_springs, reference

from gaugelink.mechanics.free_spring import (
    coils_wound,
    free_coils,
    greatest_extent_mm,
    reverse_strain,
    strain_from_free_coils,
)
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.torque import run_down

TABLE = reference("strength")


def strip(stress: float, length: float) -> SpringInBarrel:
    """The strip of that file, coils as closed rings."""
    return healthy(
        thickness_mm=0.126,
        length_mm=length,
        height_mm=1.2,
        modulus_mpa=206_000.0,
        full_wind_stress_mpa=stress,
    )


def by_length(part: str) -> list[Any]:
    rows = TABLE[part]["rows"]
    return [(row["stress_mpa"], *each) for row in rows for each in row["by_length"]]


@pytest.mark.parametrize(("stress", "length", "coils", "extent"), by_length("laid_free"))
def test_coils_and_extent_of_the_free_spring(
    stress: float, length: float, coils: float, extent: float
) -> None:
    spring = strip(stress, length)
    assert free_coils(spring) == pytest.approx(coils, abs=6e-3)
    assert strain_from_free_coils(spring, coils) * 206_000 == pytest.approx(stress, rel=2e-3)
    # eighteen directions see at most cos(5 degrees) less than the greatest
    (width,) = greatest_extent_mm(spring)
    assert 0.995 * extent - 0.006 < width / 11.0 < extent + 0.006


@pytest.mark.parametrize(("stress", "length", "coils"), by_length("loose"))
def test_loose_coils_of_the_run_down_spring(stress: float, length: float, coils: float) -> None:
    assert run_down(strip(stress, length)).loose_coils == pytest.approx(coils, abs=7e-3)


def test_coils_of_one_spring_by_the_identity_of_its_mean_curvature() -> None:
    row = TABLE["coils_of_one"]
    spring = strip(row["stress_mpa"], row["length_mm"])
    mean = np.mean(even_free_curvature_per_mm(spring, elements_mm(spring)))
    assert coils_wound(spring) == pytest.approx(row["wound"], abs=6e-3)
    assert mean * spring.length_mm / (2 * math.pi) == pytest.approx(row["free"], abs=6e-3)
    assert free_coils(spring) == pytest.approx(row["free"], abs=6e-3)


@pytest.mark.parametrize(("length", "stress"), TABLE["reverse"]["rows"])
def test_the_free_end_is_an_s_exactly_above_the_reverse_stress(
    length: float, stress: float
) -> None:
    """3009 MPa at 380 mm: there the curvature of the outer end is none."""
    assert 206_000 * reverse_strain(strip(2000.0, length)) == pytest.approx(stress, abs=0.51)
    for off, is_s in ((-2.0, False), (2.0, True)):
        spring = strip(stress + off, length)
        outer = even_free_curvature_per_mm(spring, np.array([length]))
        assert (float(outer[0]) < 0) is is_s


@settings(deadline=None)
@given(random_springs(), st.floats(0.0, 20.0))
def test_strain_and_free_coils_undo_one_another(spring: SpringInBarrel, free: float) -> None:
    strain = strain_from_free_coils(spring, free_coils(spring))
    assert strain * spring.modulus_mpa == pytest.approx(spring.full_wind_stress_mpa)
    bent = healthy(full_wind_stress_mpa=215_000.0 * strain_from_free_coils(healthy(), free))
    assert free_coils(bent) == pytest.approx(free)


@settings(deadline=None, max_examples=20)
@given(random_springs(least_stress=800.0))
def test_extent_is_that_of_the_outline_drawn_by_arcs(spring: SpringInBarrel) -> None:
    """Each element a chord of its own arc, and every pair of points compared: no published number.

    Springs that curl up tightly the other way are left out: beyond any strip, and the points along
    them too few.
    """
    assume(float(free_coils(spring)) > 0)
    n = 2400
    step = spring.length_mm / n
    bend = np.asarray(even_free_curvature_per_mm(spring, elements_mm(spring, count=n)))
    heading = np.concatenate(([0.0], np.cumsum(bend * step)))
    middle = heading[:-1] + bend * step / 2
    chord = step * np.sinc(bend * step / 2 / np.pi)
    ends = np.cumsum(chord * np.exp(1j * middle))[::3]
    apart = np.abs(np.subtract.outer(ends, ends)).max()
    (width,) = greatest_extent_mm(spring)
    assert width == pytest.approx(apart, rel=0.01)
    assert width < spring.length_mm


def test_many_stresses_at_once_are_the_single_ones() -> None:
    stresses = np.array([1200.0, 2000.0, 2800.0])
    together = greatest_extent_mm(healthy(full_wind_stress_mpa=stresses))
    single = [greatest_extent_mm(healthy(full_wind_stress_mpa=each))[0] for each in stresses]
    assert together.tolist() == pytest.approx(single)
