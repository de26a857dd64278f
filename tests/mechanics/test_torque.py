from __future__ import annotations

import math
from dataclasses import astuple, replace

import numpy as np
import pytest
from clip_oracle import ClipOracle
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from watch_springs import healthy, item, of_fill, random_springs, stack, torque_per_turn_nmm

from gaugelink.mechanics.spring import SpringInBarrel, fits
from gaugelink.mechanics.torque import (
    ring_turns,
    run_down,
    torque_after,
    turns_until,
    usable_turns,
)
from gaugelink.sizing import rules


def oracle(spring: SpringInBarrel) -> ClipOracle:
    return ClipOracle(*astuple(spring))


WHOLE_RUN = ("turns_rings", "turns_usable", "energy_mj", "last_torque_nmm", "loose_coils")


@settings(max_examples=25, deadline=None)
@given(random_springs())
def test_usable_turns_and_energy_agree_with_adaptive_quadrature(spring: SpringInBarrel) -> None:
    known, whole = oracle(spring), run_down(spring)
    energy = known.stored(spring.full_wind_torque_nmm) - known.stored(0.0)
    assert whole.turns_usable == pytest.approx(known.usable(), rel=1e-9)
    assert whole.energy_mj == pytest.approx(energy, rel=1e-7)
    assert whole.loose_coils == pytest.approx(known.loose_coils(), rel=1e-7, abs=1e-7)


@settings(max_examples=20, deadline=None)
@given(random_springs(), st.floats(0.001, 1.0))
def test_torque_agrees_with_quadrature_and_root_finding(
    spring: SpringInBarrel, part: float
) -> None:
    turns = part * float(usable_turns(spring))
    assume(turns < 0.999 * float(ring_turns(spring)))
    want = oracle(spring).torque_after(turns)
    assert torque_after(spring, turns) == pytest.approx(
        want, abs=1e-7 * spring.full_wind_torque_nmm
    )


@settings(max_examples=25, deadline=None)
@given(random_springs(), st.floats(0.0, 1.2))
def test_turns_until_a_torque_agree_with_quadrature(spring: SpringInBarrel, part: float) -> None:
    """From none, where there is less at full wind, to all, where more is left at the end."""
    known, full = oracle(spring), float(spring.full_wind_torque_nmm)
    want = known.turns_given(min(part, 1.0) * full)
    assert turns_until(spring, part * full) == pytest.approx(want, rel=1e-7, abs=1e-9)
    if 0.05 < want < 0.95 * known.usable():
        assert torque_after(spring, want) == pytest.approx(part * full, rel=1e-6)


@settings(max_examples=15, deadline=None)
@given(random_springs())
def test_torque_over_the_angle_turned_is_the_energy_given(spring: SpringInBarrel) -> None:
    whole = run_down(spring)
    end = float(whole.turns_usable)
    # The curve is steep at its end, where the last coils reach the wall: t = end (1 - v^2).
    work, _ = quad(
        lambda v: 2 * v * end * 2 * math.pi * torque_after(spring, end * (1 - v * v)),
        0.0,
        1.0,
        limit=200,
    )
    assert work == pytest.approx(whole.energy_mj, rel=1e-6)


@settings(deadline=None)
@given(random_springs())
def test_usable_turns_are_at_most_the_rings_and_end_the_torque(spring: SpringInBarrel) -> None:
    whole = run_down(spring)
    assert 0 < whole.turns_usable <= whole.turns_rings * (1 + 1e-12)
    just_before = torque_after(spring, whole.turns_usable * (1 - 1e-9))
    assert just_before == pytest.approx(
        whole.last_torque_nmm, abs=1e-3 * spring.full_wind_torque_nmm
    )
    assert torque_after(spring, whole.turns_usable * 1.001 + 0.001) == 0.0
    assert (whole.last_torque_nmm > 0) == (whole.loose_coils == pytest.approx(0.0, abs=1e-9))


@settings(deadline=None)
@given(random_springs())
def test_torque_falls_from_turn_to_turn(spring: SpringInBarrel) -> None:
    turns = np.linspace(0.0, float(usable_turns(spring)), 200)
    torque = np.asarray(torque_after(spring, turns))
    assert torque[0] == pytest.approx(spring.full_wind_torque_nmm)
    assert np.all(np.diff(torque) < 0)
    # never slower than with every coil free
    slope = np.diff(torque) / np.diff(turns)
    assert np.all(slope <= -torque_per_turn_nmm(spring) * (1 - 1e-6))


@settings(deadline=None)
@given(random_springs(), st.floats(0.1, 10.0))
def test_scaling_every_length_leaves_turns_and_cubes_torque(
    spring: SpringInBarrel, scale: float
) -> None:
    sizes = ("bore_mm", "arbor_mm", "thickness_mm", "length_mm", "height_mm")
    scaled = replace(spring, **{name: scale * getattr(spring, name) for name in sizes})
    before, after = run_down(spring), run_down(scaled)
    assert after.turns_usable == pytest.approx(before.turns_usable, rel=1e-9)
    assert after.energy_mj == pytest.approx(scale**3 * before.energy_mj, rel=1e-8)
    middle = float(before.turns_usable) / 2
    assert torque_after(scaled, middle) == pytest.approx(
        scale**3 * torque_after(spring, middle), rel=1e-8
    )


@settings(deadline=None)
@given(random_springs(), st.floats(0.2, 5.0))
def test_torque_goes_with_the_height_and_turns_do_not(
    spring: SpringInBarrel, factor: float
) -> None:
    higher = replace(spring, height_mm=factor * spring.height_mm)
    turns = np.linspace(0.0, float(usable_turns(spring)), 20)
    want = factor * np.asarray(torque_after(spring, turns))
    np.testing.assert_allclose(torque_after(higher, turns), want, rtol=1e-9, atol=1e-9 * want[0])
    assert usable_turns(higher) == pytest.approx(usable_turns(spring))


@settings(deadline=None)
@given(random_springs(), st.floats(1.0, 2.0))
def test_more_stress_gives_more_torque_and_no_fewer_turns(
    spring: SpringInBarrel, factor: float
) -> None:
    stronger = replace(spring, full_wind_stress_mpa=factor * spring.full_wind_stress_mpa)
    weak, strong = run_down(spring), run_down(stronger)
    assert strong.turns_usable >= weak.turns_usable * (1 - 1e-12)
    assert strong.energy_mj >= weak.energy_mj * (1 - 1e-12)
    # and at any turn the difference is that of full wind: only the zero is shifted
    middle = float(weak.turns_usable) / 2
    shift = torque_after(stronger, middle) - torque_after(spring, middle)
    assert shift == pytest.approx(
        stronger.full_wind_torque_nmm - spring.full_wind_torque_nmm, abs=1e-9
    )


@settings(deadline=None)
@given(st.floats(0.05, 0.95))
def test_geometry_is_alike_for_a_fill_and_its_complement_and_torque_is_not(fill: float) -> None:
    short, long = of_fill(min(fill, 1 - fill)), of_fill(max(fill, 1 - fill))
    assert ring_turns(short) == pytest.approx(ring_turns(long))
    assert usable_turns(short) <= usable_turns(long) * (1 + 1e-12)


@settings(deadline=None)
@given(random_springs())
def test_rings_are_those_of_the_sizing(spring: SpringInBarrel) -> None:
    sizes = spring.bore_mm, spring.arbor_mm, spring.thickness_mm, spring.length_mm
    assert ring_turns(spring) == pytest.approx(rules.development_turns(*sizes), rel=1e-9)


@settings(max_examples=10, deadline=None)
@given(st.lists(random_springs(), min_size=2, max_size=20))
def test_many_springs_at_once_are_those_springs_one_by_one(springs: list[SpringInBarrel]) -> None:
    many = stack(springs)
    whole = run_down(many)
    after = np.asarray(torque_after(many, 2.0))
    for index in range(len(springs)):
        alone = run_down(item(many, index))
        for name in WHOLE_RUN:
            got = np.asarray(getattr(whole, name))[index]
            want = getattr(alone, name)
            assert got == pytest.approx(want, rel=1e-12, abs=1e-12, nan_ok=True), name
        assert after[index] == pytest.approx(torque_after(item(many, index), 2.0), abs=1e-12)


def test_what_does_not_fit_is_nan_among_what_does() -> None:
    # 704 mm cover the whole ring, 792 mm the whole barrel
    springs = [healthy(length_mm=length) for length in (352.0, 800.0, 660.0, 710.0)]
    many = stack(springs)
    whole = run_down(many)
    wrong = [False, True, False, True]
    for name in WHOLE_RUN:
        assert np.isnan(np.asarray(getattr(whole, name))).tolist() == wrong, name
    assert np.isnan(np.asarray(torque_after(many, 1.0))).tolist() == wrong
    assert np.isnan(np.asarray(torque_after(many, 9.0))).tolist() == wrong
    assert np.logical_not(fits(many)).tolist() == wrong


def test_turns_before_full_wind_have_no_torque() -> None:
    assert math.isnan(torque_after(healthy(), -0.1))
    assert torque_after(healthy(), 0.0) == pytest.approx(healthy().full_wind_torque_nmm)


def test_torque_of_a_stiff_spring_ends_with_what_is_left_on_the_wall() -> None:
    stiff = healthy(full_wind_stress_mpa=4500.0)
    left = run_down(stiff).last_torque_nmm
    assert left > 2.0
    assert torque_after(stiff, usable_turns(stiff)) == pytest.approx(left)
    assert torque_after(healthy(), usable_turns(healthy())) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    "changes",
    [
        {"height_mm": 0.0},
        {"full_wind_stress_mpa": -1.0},
        {"modulus_mpa": math.nan},
        {"length_mm": 800.0},
        {"arbor_mm": 11.5},
    ],
)
def test_a_single_spring_that_cannot_be_does_not_fit(changes: dict[str, float]) -> None:
    assert not fits(healthy(**changes))
