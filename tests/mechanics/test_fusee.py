"""The fusee: what it does to a torque that is known, by hand, and to any spring, by its laws."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from watch_springs import healthy, random_springs, stack

from gaugelink.mechanics.band import Number
from gaugelink.mechanics.fusee import (
    Fusee,
    barrel_turns,
    best_set_up,
    diameter_mm,
    fusee_run,
    hollow_of,
)
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.torque import torque_after, usable_turns

CONE = Fusee(small_mm=6.0, large_mm=12.0, turns=6.0, barrel_outside_mm=18.0, hollow=0.0)

fusees = st.builds(
    lambda small, ratio, turns, outside, hollow: Fusee(
        small_mm=small,
        large_mm=small * ratio,
        turns=turns,
        barrel_outside_mm=outside * small,
        hollow=hollow,
    ),
    st.floats(3.0, 15.0),
    st.floats(1.05, 2.5),
    st.floats(3.0, 9.0),
    st.floats(1.5, 4.0),
    st.floats(0.0, 1.0),
)


def straight(turns: Number) -> Number:
    """10 N mm when tight, 1 N mm less after each turn, nothing after ten."""
    return np.maximum(10.0 - np.asarray(turns), 0.0)


def test_a_straight_cone_by_hand() -> None:
    """Statics: the chain pulls with 2 M / D, and turns the fusee with that times d / 2.

    Chain: mean diameter 9 mm, 6 turns: pi * 9 * 6 = 169.65 mm, 9 * 6 / 18 = 3 turns of the barrel.
    Set up by 1 turn of 10, it goes from 6 turns after full wind to 9: 4 N mm and 1 N mm.
    Top 4 * 6 / 18 = 1.333; bottom 1 * 12 / 18 = 0.667. A third of them take (6 + 8) / 2 * 2 / 18
    = 0.778 turns of the barrel: (4 - 0.778) * 8 / 18 = 1.432, half of them 1.25:
    (4 - 1.25) * 9 / 18 = 1.375. Evenness 0.667 / 1.432; 0.003 N mm more lies between the places.
    Ends alike: (s + 3) * 6 = s * 12, s = 3, with 6 and 3 N mm both give 2; spare 10 - 1 - 3 = 6.
    """
    assert pytest.approx(169.646, abs=1e-3) == CONE.chain_mm
    assert pytest.approx(3.0) == CONE.chain_turns
    run = fusee_run(CONE, straight, 10.0, 1.0)
    assert run.top_nmm == pytest.approx(4 / 3)
    assert run.bottom_nmm == pytest.approx(2 / 3)
    assert run.evenness == pytest.approx((2 / 3) / ((4 - 7 * 2 / 18) * 8 / 18))
    assert run.spare_turns == pytest.approx(6.0)
    assert run.best_set_up == pytest.approx(3.0)
    assert run.best_evenness == pytest.approx(2.0 / (4.75 * 9 / 18))  # 6 - 1.25 half way


def test_the_curve_takes_the_chain_of_its_harmonic_mean_by_hand() -> None:
    """2 / (1/6 + 1/12) = 8 mm on the mean; half way 1 / sqrt((1/36 + 1/144) / 2) = 7.589 mm."""
    curve = replace(CONE, hollow=1.0)
    assert curve.chain_mm == pytest.approx(math.pi * 8 * 6)
    assert diameter_mm(curve, 0.5) == pytest.approx(7.589, abs=1e-3)
    assert hollow_of(6.0, 7.5895, 12.0) == pytest.approx(1.0, abs=1e-3)
    assert hollow_of(6.0, 9.0, 12.0) == pytest.approx(0.0)
    assert hollow_of(8.0, 8.0, 8.0) == 0.0


@given(fusees, st.floats(0.3, 5.0))
def test_a_cone_matched_to_its_spring_gives_one_torque(fusee: Fusee, set_up: float) -> None:
    """A torque that falls straight, s at the bottom and s + chain at the top, and d as 1 / M."""
    curve = replace(fusee, hollow=1.0)
    for _ in range(60):  # the chain depends on the large end, and that on the chain
        large = curve.small_mm * (set_up + curve.chain_turns) / set_up
        curve = replace(curve, large_mm=(large + curve.large_mm) / 2)
    usable = set_up + curve.chain_turns + 1.0
    run = fusee_run(curve, lambda turns: usable - np.asarray(turns), usable, set_up)
    assert run.top_nmm == pytest.approx(run.bottom_nmm, rel=1e-6)
    assert run.evenness == pytest.approx(1.0, abs=1e-6)
    assert run.best_set_up == pytest.approx(set_up, rel=1e-3)


@given(fusees, st.floats(0.0, 1.0))
def test_the_chain_on_the_barrel_is_the_chain_off_the_cone(fusee: Fusee, part: float) -> None:
    places = np.linspace(0.0, part, 2001)
    wide = diameter_mm(fusee, places)
    mean = np.trapezoid(wide, places) * fusee.turns / fusee.barrel_outside_mm
    assert barrel_turns(fusee, part) == pytest.approx(mean, rel=1e-6, abs=1e-12)
    assert np.all(np.diff(wide) >= 0)
    assert wide[0] == pytest.approx(fusee.small_mm)
    assert diameter_mm(fusee, 1.0) == pytest.approx(fusee.large_mm)


def evenness(fusee: Fusee, spring: SpringInBarrel, set_up: float) -> float:
    part = np.linspace(0.0, 1.0, 101)
    first = float(usable_turns(spring)) - set_up - fusee.chain_turns
    torques = torque_after(spring, first + barrel_turns(fusee, part)) * diameter_mm(fusee, part)
    return float(np.min(torques) / np.max(torques))


@given(fusees)
def test_no_other_set_up_is_much_evener(fusee: Fusee) -> None:
    spring = healthy()
    usable = float(usable_turns(spring))
    fusee = replace(fusee, turns=fusee.turns * 3.0 / fusee.chain_turns)  # a chain of 3 turns
    run = fusee_run(fusee, lambda turns: torque_after(spring, turns), usable, 0.75)
    searched = max(evenness(fusee, spring, s) for s in np.linspace(0.0, usable - 3.0, 60))
    own = evenness(fusee, spring, float(run.best_set_up))
    assert own >= searched - 0.02
    assert run.best_evenness == pytest.approx(own, abs=0.01)
    assert run.best_evenness >= run.evenness - 0.02
    assert 0 <= run.best_set_up <= usable - 3.0 + 1e-9


@given(fusees, st.lists(random_springs(), min_size=2, max_size=4), st.floats(0.0, 2.0))
def test_many_at_once_are_as_each_alone(
    fusee: Fusee, springs: list[SpringInBarrel], set_up: float
) -> None:
    many = stack(springs)
    runs = fusee_run(fusee, lambda t: torque_after(many, t), usable_turns(many), set_up)
    for i, spring in enumerate(springs):
        alone = fusee_run(
            fusee, lambda t, s=spring: torque_after(s, t), usable_turns(spring), set_up
        )
        assert [float(np.asarray(each)[i]) for each in runs] == pytest.approx(
            [float(each) for each in alone], rel=1e-6, abs=1e-6
        )


def test_a_spring_with_too_few_turns_lacks_them_and_takes_no_set_up() -> None:
    run = fusee_run(CONE, straight, 2.5, 0.75)
    assert run.spare_turns == pytest.approx(2.5 - 0.75 - 3.0)
    assert run.best_set_up == 0.0
    assert 0 <= run.evenness <= 1


def test_more_set_up_strengthens_the_bottom_more_than_the_top() -> None:
    runs = [fusee_run(CONE, straight, 10.0, s) for s in (0.5, 1.0, 2.0)]
    ratios = [float(run.bottom_nmm / run.top_nmm) for run in runs]
    assert ratios == sorted(ratios)
    weak = best_set_up(CONE, lambda turns: straight(turns + 6.0), 4.0)
    assert weak == pytest.approx(1.0)  # all that there is
