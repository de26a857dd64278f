"""Stopwork on many springs at once, and what is said where it asks for too much."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from watch_springs import healthy, item, random_springs, stack

from gaugelink.mechanics import (
    SpringInBarrel,
    Stopwork,
    run_down,
    stopwork_warnings,
    working_span,
    working_turns,
)

SPRINGS = [healthy(), healthy(thickness_mm=0.13), healthy(length_mm=420.0)]
STOPWORK = Stopwork(turns=4.0, set_up_turns=1.5)


@pytest.mark.parametrize("stopwork", [None, STOPWORK, Stopwork(turns=5.0, set_up_turns=0.2)])
def test_many_springs_at_once_are_those_springs_one_by_one(stopwork: Stopwork | None) -> None:
    many = stack(SPRINGS)
    span = working_span(run_down(many), stopwork)
    for index in range(len(SPRINGS)):
        alone = working_turns(item(many, index), stopwork)
        assert np.broadcast_to(span.first, 3)[index] == pytest.approx(alone.first)
        assert span.last[index] == pytest.approx(alone.last)
        assert span.turns[index] == pytest.approx(alone.turns)


@settings(deadline=None)
@given(random_springs(), st.floats(0.1, 12.0), st.floats(0.0, 5.0))
def test_working_turns_lie_within_the_usable_and_the_allowed(
    spring: SpringInBarrel, turns: float, set_up: float
) -> None:
    run = run_down(spring)
    span = working_span(run, Stopwork(turns=turns, set_up_turns=set_up))
    assert 0.0 <= span.first <= span.last
    assert span.turns <= turns + 1e-12
    assert span.last <= max(float(run.turns_usable), float(span.first))


def test_too_many_turns_begin_at_full_wind_and_are_warned_of() -> None:
    greedy = Stopwork(turns=7.0, set_up_turns=2.0)
    assert working_span(run_down(healthy()), greedy).first == 0.0
    (warning,) = stopwork_warnings(healthy(), greedy)
    assert warning.code == "stopwork-short"
    assert "more than the 7.2 turns of this spring" in warning.text


@pytest.mark.parametrize("stopwork", [None, STOPWORK])
def test_a_stopwork_that_suits_is_not_warned_of(stopwork: Stopwork | None) -> None:
    assert stopwork_warnings(healthy(), stopwork) == ()
