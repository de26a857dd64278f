"""Stopwork: the turns it selects, the torque over them, what is said where it asks too much.

The counts and torques beside ours are those of ``clip_oracle``: quadrature and root finding
on the same springs, which is told nothing of full wind, ring turns or stopworks.
"""

from __future__ import annotations

from dataclasses import astuple

import numpy as np
import pytest
from clip_oracle import ClipOracle
from hypothesis import given, settings
from hypothesis import strategies as st
from watch_springs import healthy, item, random_springs, stack

from gaugelink.mechanics.arrangement import Stopwork
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.stopwork import (
    driving_torque,
    selected_turns,
    stopwork_warnings,
    torque_ratio,
    working_turns,
)
from gaugelink.mechanics.torque import ring_turns, run_down, torque_after, usable_turns

SPRINGS = [healthy(), healthy(thickness_mm=0.13), healthy(length_mm=420.0)]
STOPWORK = Stopwork(turns=4.0, set_up_turns=1.5)


def oracle(spring: SpringInBarrel) -> ClipOracle:
    return ClipOracle(*astuple(spring))


@pytest.mark.parametrize("stopwork", [None, STOPWORK, Stopwork(turns=5.0, set_up_turns=0.2)])
def test_many_springs_at_once_are_those_springs_one_by_one(stopwork: Stopwork | None) -> None:
    many = stack(SPRINGS)
    span = selected_turns(run_down(many).turns_usable, stopwork)
    torque = np.asarray(driving_torque(many, stopwork, 2.0))
    for index in range(len(SPRINGS)):
        alone = working_turns(item(many, index), stopwork)
        assert np.broadcast_to(span.first, 3)[index] == pytest.approx(alone.first)
        assert span.last[index] == pytest.approx(alone.last)
        assert span.turns[index] == pytest.approx(alone.turns)
        assert torque[index] == pytest.approx(driving_torque(item(many, index), stopwork, 2.0))


@settings(deadline=None)
@given(random_springs(), st.floats(0.1, 12.0), st.floats(0.0, 12.0))
def test_working_turns_lie_within_the_usable_and_the_allowed(
    spring: SpringInBarrel, turns: float, set_up: float
) -> None:
    run = run_down(spring)
    span = selected_turns(run.turns_usable, Stopwork(turns=turns, set_up_turns=set_up))
    assert 0.0 <= span.first <= span.last
    assert span.turns <= turns + 1e-12
    left = float(run.turns_usable) - set_up
    assert span.last == pytest.approx(max(left, 0.0))
    assert span.turns == pytest.approx(min(turns, max(left, 0.0)))


@settings(max_examples=20, deadline=None)
@given(random_springs(), st.floats(0.02, 0.9))
def test_set_up_begins_where_the_spring_gives_no_torque(
    spring: SpringInBarrel, part: float
) -> None:
    """Wound from rest by the set-up, it drives until there and never stops without torque."""
    known = oracle(spring)
    at_rest = known.usable()
    set_up = part * at_rest
    span = working_turns(spring, Stopwork(turns=at_rest - set_up - 1e-6, set_up_turns=set_up))
    assert at_rest - float(span.last) == pytest.approx(set_up, rel=1e-7)
    at_stop = float(torque_after(spring, span.last))
    full = float(spring.full_wind_torque_nmm)
    assert at_stop == pytest.approx(known.torque_after(at_rest - set_up), abs=1e-6 * full)
    assert at_stop > 0.0


def test_a_spring_that_presses_on_the_wall_is_set_up_from_there() -> None:
    """At 4500 MPa no coil is loose and torque is left when all of them lie on the wall."""
    stiff = healthy(full_wind_stress_mpa=4500.0)
    assert run_down(stiff).last_torque_nmm > 2.0
    assert working_turns(stiff, STOPWORK).last == pytest.approx(float(ring_turns(stiff)) - 1.5)


def test_torque_from_stop_to_stop_by_hand() -> None:
    """Row 2000 MPa of fixtures/reference/mechanics_torque.json: 6.371 and 5.542 N mm after 1
    and 2 turns, a straight line there, and 6.311 usable turns: 4 above 1 begin at 1.311.
    """
    stopwork, slope = Stopwork(turns=4.0, set_up_turns=1.0), 6.371 - 5.542
    top = float(driving_torque(healthy(), stopwork))
    assert top == pytest.approx(6.371 - 0.311 * slope, abs=0.002)
    # 4.713 after 3 turns, 3.846 after 4
    after_two = float(driving_torque(healthy(), stopwork, 2.0))
    assert 3.846 < after_two < 4.713
    assert driving_torque(healthy(), stopwork, 4.0) == pytest.approx(
        oracle(healthy()).torque_after(oracle(healthy()).usable() - 1.0), rel=1e-7
    )


@pytest.mark.parametrize(
    ("stopwork", "turns", "drives"),
    [
        (None, 6.3, True),
        (None, 6.4, False),
        (Stopwork(turns=3.0, set_up_turns=1.0), 3.0, True),  # to the very stop
        (Stopwork(turns=3.0, set_up_turns=1.0), 3.001, False),  # torque is left, and held
        (Stopwork(turns=7.0, set_up_turns=2.0), 4.3, True),  # 6.311 less the set-up
        (Stopwork(turns=7.0, set_up_turns=2.0), 4.4, False),
    ],
)
def test_the_watch_stands_once_the_last_turn_is_gone(
    stopwork: Stopwork | None, turns: float, drives: bool
) -> None:
    assert (float(driving_torque(healthy(), stopwork, turns)) > 0) is drives


@pytest.mark.parametrize("turns", [0.0, 3.0])
def test_ratio_takes_each_spring_at_its_own_top(turns: float) -> None:
    """Each from rest by set-up and turns; of equal shape c_0 is equal, so stress goes with e."""
    thick, beside = healthy(thickness_mm=0.13), healthy(length_mm=340.0)
    alike = healthy(thickness_mm=0.13, full_wind_stress_mpa=2000.0 * 0.13 / 0.12)

    def torque(spring: SpringInBarrel) -> float:
        known = oracle(spring)
        return known.torque_after(known.usable() - 5.5 + turns)

    ratios = sorted(torque(each) / torque(beside) for each in (thick, alike))
    band = torque_ratio(thick, beside, turns=turns, stopwork=STOPWORK)
    assert (band.low, band.high) == pytest.approx(ratios, rel=1e-6)
    plain = torque_ratio(thick, beside, turns=turns)
    # the thicker one has fewer turns, so that the stopwork takes it nearer to full wind
    assert band.low > plain.low + 0.05
    assert band.high > plain.high + 0.05


def test_too_many_turns_begin_at_full_wind_and_end_at_the_set_up() -> None:
    greedy = Stopwork(turns=7.0, set_up_turns=2.0)
    span = selected_turns(run_down(healthy()).turns_usable, greedy)
    assert span.first == 0.0
    assert span.last == pytest.approx(6.311 - 2.0, abs=6e-4)
    (warning,) = stopwork_warnings(healthy(), greedy)
    assert warning.code == "stopwork-short"
    assert "more than the 6.3 usable turns of this spring" in warning.text


def test_set_up_that_takes_every_turn_leaves_none() -> None:
    span = selected_turns(run_down(healthy()).turns_usable, Stopwork(turns=4.0, set_up_turns=6.5))
    assert (span.first, span.last, span.turns) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("turns", "short"), [(4.8, False), (4.82, True), (5.5, True)]
)  # 6.311 usable less 1.5 of set-up; 7.213 in rings
def test_only_usable_turns_count(turns: float, short: bool) -> None:
    stopwork = Stopwork(turns=turns, set_up_turns=1.5)
    assert float(usable_turns(healthy())) < 6.5 < float(ring_turns(healthy()))
    assert [each.code for each in stopwork_warnings(healthy(), stopwork)] == (
        ["stopwork-short"] if short else []
    )


@pytest.mark.parametrize("stopwork", [None, STOPWORK])
def test_a_stopwork_that_suits_is_not_warned_of(stopwork: Stopwork | None) -> None:
    assert stopwork_warnings(healthy(), stopwork) == ()
