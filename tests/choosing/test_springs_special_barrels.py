"""Choosing for a watch with a stopwork, with two barrels, a fusee or a motor barrel."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from choosing_bench import DOCUMENTED, given, job, spring

from gaugelink.choosing.acting import watch_of
from gaugelink.choosing.choice import Choice
from gaugelink.choosing.choose_spring import choose_spring
from gaugelink.choosing.measures import Other, torque_band, turns_since_wind
from gaugelink.choosing.springs import Grade, columns_of
from gaugelink.choosing.state import known_state
from gaugelink.mechanics.arrangement import Arrangement, BarrelKind, Stopwork
from gaugelink.mechanics.materials import material_named
from gaugelink.mechanics.motion import MeasuredAmplitude, Wind
from gaugelink.mechanics.spring import SpringInBarrel, as_spiral
from gaugelink.mechanics.stopwork import torque_ratio
from gaugelink.sizing.size_spring import size_spring

STOCK = [spring(0.12, 1.45), spring(0.125, 1.4, 330.0), spring(0.11, 1.45, 380.0)]
FOUR_ABOVE_ONE = Arrangement(stopwork=Stopwork(turns=4.0, set_up_turns=1.0))
LATER = MeasuredAmplitude(amplitude_deg=250.0, wind=Wind.DAY_LATER)


def chosen(arrangement: Arrangement, **of_barrel: Any) -> Choice:
    inputs = job(**{"documented": DOCUMENTED, "arrangement": arrangement, **of_barrel})
    return choose_spring(inputs, STOCK, draws=1000)


def codes(choice: Choice) -> set[str]:
    return {each.code for each in choice.warnings}


@pytest.mark.parametrize("wind", Wind)
def test_torque_with_a_stopwork_is_that_of_each_spring_at_its_top(wind: Wind) -> None:
    """As ``mechanics.torque_ratio``, which is tested against quadrature."""
    inputs, open_material = job(arrangement=FOUR_ABOVE_ONE), material_named("open")
    state, watch = known_state(inputs).best, watch_of(inputs.barrel)
    turns = turns_since_wind(replace(LATER, wind=wind), watch)
    assert turns == (0.0 if wind is Wind.FULL else 3.0)
    beside = Other(thickness_mm=0.12, height_mm=1.5, length_mm=350.0)
    columns = columns_of(STOCK, Grade.WATCH)
    band = torque_band(state, columns, beside, watch, turns=turns)
    for at, each in enumerate(STOCK):
        own = SpringInBarrel(
            bore_mm=11.0,
            arbor_mm=3.67,
            thickness_mm=each.thickness_mm,
            length_mm=each.length_mm,
            height_mm=each.height_mm,
            modulus_mpa=open_material.modulus_mpa,
            full_wind_stress_mpa=open_material.healthy_mpa.median,
        )
        reference = replace(own, thickness_mm=0.12, height_mm=1.5, length_mm=350.0)
        want = torque_ratio(
            as_spiral(own), as_spiral(reference), turns=turns, stopwork=watch.stopwork
        )
        assert np.asarray(band.low)[at] == pytest.approx(float(want.low))
        assert np.asarray(band.high)[at] == pytest.approx(float(want.high))


def test_size_and_choice_give_one_count_of_turns_and_hours() -> None:
    """The documented spring out of the stock: 4 turns are 32 h, all of them usable."""
    choice = choose_spring(
        job(documented=DOCUMENTED, arrangement=FOUR_ABOVE_ONE), [spring(0.12)], draws=1000
    )
    result = size_spring(job(documented=DOCUMENTED, arrangement=FOUR_ABOVE_ONE).barrel, draws=1000)
    assert result.documented is not None
    model = result.documented.figures.torque_model
    assert model is not None
    assert model.turns_working is not None
    assert model.hours_usable is not None
    pick = choice.picks[0]
    assert pick.hours is not None
    assert pick.turns_usable.value == pytest.approx(model.turns_working.value) == pytest.approx(4.0)
    assert pick.hours.value == pytest.approx(model.hours_usable.value) == pytest.approx(32.0)


@pytest.mark.parametrize(("set_up", "doubted"), [(1.5, False), (1.6, True)])
def test_turns_that_only_some_free_shape_gives_are_doubted(set_up: float, doubted: bool) -> None:
    """0.12 x 350 mm has 6.536 usable turns at 2450 MPa and 6.760 at 3486: 5 above 1.536 at most.

    Both by a midpoint sum as in ``score_oracle``.
    """
    stopwork = Stopwork(turns=5.0, set_up_turns=set_up)
    inputs = job(documented=DOCUMENTED, arrangement=Arrangement(stopwork=stopwork))
    choice = choose_spring(inputs, [spring(0.12)], draws=1000)
    warned = {each.code for each in choice.picks[0].warnings}
    assert ("stopwork-short" in warned) is doubted


@pytest.mark.parametrize("kind", BarrelKind)
def test_turns_that_tell_no_hours_are_asked_for_none(kind: BarrelKind) -> None:
    """Those of a fusee's barrel, and of one of two: 36 h are no wish and 8 h a turn no guess."""
    inputs = job(documented=DOCUMENTED, arrangement=Arrangement(kind=kind), hours_per_turn=8.0)
    watch = watch_of(inputs.barrel)
    unsaid = watch_of(replace(inputs.barrel, hours_per_turn=None))
    days = [turns_since_wind(LATER, each) for each in (watch, unsaid)]
    if kind in (BarrelKind.FUSEE, BarrelKind.TWIN):
        assert (watch.hours_per_turn, watch.reserve_turns) == (None, None)
        assert days == [0.0, 0.0]
    else:
        assert (watch.hours_per_turn, watch.reserve_turns) == (8.0, 4.5)
        assert days == [3.0, 3.0]


@pytest.mark.parametrize(
    ("kind", "hours", "code"),
    [
        (BarrelKind.GOING, True, None),
        (BarrelKind.MOTOR, True, "motor-barrel"),
        (BarrelKind.FUSEE, False, "fusee"),
        (BarrelKind.TWIN, False, "two-barrels"),
    ],
)
def test_the_choice_refuses_the_hours_that_the_sizing_refuses(
    kind: BarrelKind, hours: bool, code: str | None
) -> None:
    arrangement = Arrangement(kind=kind)
    choice = chosen(arrangement)
    result = size_spring(job(documented=DOCUMENTED, arrangement=arrangement).barrel, draws=1000)
    assert (result.watch.hours_per_turn is not None) is hours
    assert [pick.hours is not None for pick in choice.picks] == [hours] * len(STOCK)
    assert ("not-covered" in codes(choice)) is not hours
    assert codes(choice) & {"motor-barrel", "fusee", "two-barrels"} == ({code} if code else set())
    said = " ".join(reason.text for pick in choice.picks for reason in pick.reasons)
    assert ("36 h are wanted" in said) is hours
    assert ("this barrel for about" in said) is not hours


def test_a_second_barrel_is_said_even_where_no_hours_were_asked_for() -> None:
    choice = chosen(Arrangement(kind=BarrelKind.TWIN), hours_per_turn=None)
    text = " ".join(each.text for each in choice.warnings)
    assert "There are two barrels" in text
    assert "hours-unknown" not in codes(choice)
    assert "hours-unknown" in codes(chosen(Arrangement(), hours_per_turn=None))


@pytest.mark.parametrize("kind", BarrelKind)
def test_a_day_that_nobody_can_count_in_turns_is_said(kind: BarrelKind) -> None:
    found = given(0.12, 1.45, 350.0, name="found")
    choice = chosen(Arrangement(kind=kind), found=found, amplitude=LATER)
    told = kind in (BarrelKind.FUSEE, BarrelKind.TWIN)
    assert ("amplitude-state" in codes(choice)) is told
