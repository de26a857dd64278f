from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from free_shape_oracle import (
    curve_of_shape,
    elements_mm,
    even_free_curvature_per_mm,
    reverse_stress_mpa,
    run_down_curvature_per_mm,
    set_free_curvature_per_mm,
    stress_after_set_mpa,
    torque_curve,
    wound_curvature_per_mm,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from watch_springs import healthy, of_fill, random_springs, reference, torque_per_turn_nmm

from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.torque import ring_turns, run_down, torque_after


@settings(max_examples=25, deadline=None)
@given(random_springs(least_stress=800.0))
def test_quadrature_of_the_even_shape_is_the_closed_form(spring: SpringInBarrel) -> None:
    along = elements_mm(spring)
    curve = curve_of_shape(spring, even_free_curvature_per_mm(spring, along), points=40)
    # all but the last point, where the slope has no end
    turns, torque = np.array(curve.turns[:-1]), np.array(curve.torque_nmm[:-1])
    closed = np.asarray(torque_after(spring, turns))
    assert np.max(np.abs(closed - torque)) < 2e-3 * spring.full_wind_torque_nmm
    assert curve.turns[-1] == pytest.approx(run_down(spring).turns_usable, abs=2e-4)
    assert curve.torque_nmm[-1] == pytest.approx(
        run_down(spring).last_torque_nmm, abs=2e-3 * spring.full_wind_torque_nmm
    )


def test_curvatures_at_both_ends_are_those_of_the_bands() -> None:
    spring = healthy()
    ends = np.array([0.0, spring.length_mm])
    wound, down = (
        wound_curvature_per_mm(spring, ends),
        run_down_curvature_per_mm(spring, ends),
    )
    common = 8.19892 / 2  # of the 11 mm barrel at half area, by ring_model.py
    assert wound.tolist() == pytest.approx([6 / 11, 1 / common], rel=1e-5)
    assert down.tolist() == pytest.approx([1 / common, 2 / 11], rel=1e-5)


@pytest.mark.parametrize(("factor", "reversed_end"), [(0.99, False), (1.01, True)])
def test_free_end_is_bent_backwards_above_the_reverse_stress(
    factor: float, reversed_end: bool
) -> None:
    spring = healthy()
    stress = factor * float(reverse_stress_mpa(spring))
    bent = healthy(full_wind_stress_mpa=stress)
    outer = even_free_curvature_per_mm(bent, np.array([spring.length_mm]))
    assert (outer[0] < 0) == reversed_end


def test_set_strip_falls_steeply_at_first_and_then_like_the_even_one() -> None:
    spring = healthy()
    shape = set_free_curvature_per_mm(spring, elements_mm(spring), 2000.0)
    curve = curve_of_shape(spring, shape)
    stress = float(stress_after_set_mpa(spring, 2000.0))
    even = healthy(full_wind_stress_mpa=stress)
    assert curve.torque_nmm[0] == pytest.approx(even.full_wind_torque_nmm, rel=1e-3)
    fall = -np.diff(curve.torque_nmm) / np.diff(curve.turns)
    # at full wind only the inner coils let go, later all of them
    assert fall[0] > 5 * torque_per_turn_nmm(spring)
    assert np.min(fall) == pytest.approx(torque_per_turn_nmm(spring), rel=1e-6)
    at_three = np.interp(3.0, curve.turns, curve.torque_nmm)
    assert 0.9 < at_three / torque_after(even, 3.0) < 1.0


def test_the_even_spring_stands_for_one_set_on_its_arbor() -> None:
    """fixtures/reference/mechanics_strength.json: 1.394 times its yield stress on average.

    At that stress the even spring gives the same torque once both hang free.
    """
    row = reference("strength")["set_on_its_arbor"]
    limit = row["yield_mpa"]
    spring = healthy(
        thickness_mm=0.126,
        length_mm=380.0,
        height_mm=row["height_mm"],
        modulus_mpa=206_000.0,
        full_wind_stress_mpa=row["mean_over_yield"] * limit,
    )
    along = elements_mm(spring)
    free = set_free_curvature_per_mm(spring, along, limit)
    bend = np.mean(wound_curvature_per_mm(spring, along) - free)
    mean = bend * spring.modulus_mpa * spring.thickness_mm / 2 / limit
    assert mean == pytest.approx(row["mean_over_yield"], abs=6e-4)
    curve = curve_of_shape(spring, free)
    later = np.interp(row["turns"], curve.turns, curve.torque_nmm)
    assert later == pytest.approx(row["torque_set_nmm"], abs=3e-3)
    even = replace(spring, full_wind_stress_mpa=mean * limit)
    assert torque_after(even, row["turns"]) == pytest.approx(row["torque_even_nmm"], abs=1e-3)


@settings(deadline=None)
@given(st.floats(0.3, 0.7))
def test_turns_of_any_shape_end_within_the_rings(fill: float) -> None:
    spring = of_fill(fill)
    straight = np.zeros(400)
    curve = curve_of_shape(spring, straight, points=60)
    assert curve.turns[0] == 0.0
    assert curve.turns[-1] == pytest.approx(ring_turns(spring), rel=1e-4)
    assert np.all(np.diff(curve.turns) >= 0)
    # a straight strip still presses on the wall when it has run down
    assert curve.torque_nmm[-1] == pytest.approx(
        spring.rigidity_nmm2 * 2 / spring.bore_mm, rel=1e-2
    )


def test_elements_divide_the_strip_evenly() -> None:
    assert elements_mm(healthy(length_mm=8.0), count=4).tolist() == [1.0, 3.0, 5.0, 7.0]


def test_drawn_curve_and_quadrature_end_alike() -> None:
    spring = healthy()
    shape = even_free_curvature_per_mm(spring, elements_mm(spring))
    drawn, integrated = torque_curve(spring), curve_of_shape(spring, shape)
    assert math.isclose(drawn.turns[-1], integrated.turns[-1], rel_tol=1e-6)
    assert math.isclose(drawn.torque_nmm[0], integrated.torque_nmm[0], rel_tol=1e-9)
