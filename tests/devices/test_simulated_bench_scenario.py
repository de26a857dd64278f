"""The simulated repairer moves as a person does, and as the capture rules need."""

from __future__ import annotations

from itertools import pairwise

import pytest

from gaugelink.devices.simulated import (
    CALIPER_MOVES,
    MICROMETER_MOVES,
    Gesture,
    Leg,
    Move,
    Sample,
    block_moves,
    sample_presses,
    sample_stream,
    stand_still,
    walk,
)

RATE_HZ = 20.0
STEP_MM = 0.01


def placings(moves: tuple[Move, ...]) -> int:
    return sum(move.times for move in moves)


def still_stretches(samples: list[Sample], *, step_mm: float, least_s: float) -> list[float]:
    """Return where the size, having moved, stays within one step for ``least_s``."""
    found: list[float] = []
    begin, armed = 0, True
    for sample in samples:
        while abs(samples[begin].true_mm - sample.true_mm) > step_mm:
            begin += 1
        armed = armed or abs(found[-1] - sample.true_mm) > 5 * step_mm
        if armed and sample.t_s - samples[begin].t_s >= least_s:
            found.append(sample.true_mm)
            armed = False
    return found


@pytest.mark.parametrize(
    ("moves", "counts"),
    [
        (CALIPER_MOVES, {"zero": 2, "bore": 5, "depth": 3, "lid": 3, "arbor": 3}),
        (MICROMETER_MOVES, {"zero": 2, "lid": 3, "found thickness": 5, "found height": 3}),
        (block_moves(5.0), {"zero": 6, "block": 10}),
    ],
)
def test_the_plans_hold_what_they_should(moves: tuple[Move, ...], counts: dict[str, int]) -> None:
    pressed = [sample.measurand for sample in sample_presses(walk(moves))]
    assert {name: pressed.count(name) for name in pressed} == counts
    assert (moves[0].gesture, moves[-1].gesture) == (Gesture.CLOSED, Gesture.CLOSED)


@pytest.mark.parametrize("moves", [CALIPER_MOVES, MICROMETER_MOVES, block_moves(5.0)])
def test_legs_join_without_gap_or_jump(moves: tuple[Move, ...]) -> None:
    legs = walk(moves, start_s=3.0)
    for before, after in pairwise(legs):
        assert after.begin_s == before.end_s
        assert after.from_mm == before.to_mm
        assert before.size_at(before.end_s) == pytest.approx(after.size_at(after.begin_s))


@pytest.mark.parametrize("moves", [CALIPER_MOVES, MICROMETER_MOVES])
def test_the_gauge_rests_once_in_each_placing_and_nowhere_else(moves: tuple[Move, ...]) -> None:
    samples = list(sample_stream(walk(moves), rate_hz=RATE_HZ))
    rests = still_stretches(samples, step_mm=STEP_MM, least_s=0.7)
    sizes = [move.size_mm for move in moves for _ in range(move.times)]
    assert rests == pytest.approx(sizes, abs=STEP_MM)


@pytest.mark.parametrize(
    ("gesture", "extreme"), [(Gesture.INSIDE_SWEEP, max), (Gesture.OUTSIDE_SWEEP, min)]
)
def test_a_sweep_reaches_the_true_size_twice_and_stays_near_it(
    gesture: Gesture, extreme: object
) -> None:
    assert callable(extreme)
    size_mm = 3.80
    legs = walk([Move(measurand="x", gesture=gesture, size_mm=size_mm)])
    inside = gesture is Gesture.INSIDE_SWEEP
    at_part = [leg for leg in legs if abs(leg.to_mm - size_mm) < 0.3]
    assert extreme(leg.to_mm for leg in at_part) == size_mm
    assert [leg.to_mm == size_mm for leg in at_part] == [False, True, False, True, True]
    assert all(leg.to_mm <= size_mm if inside else leg.to_mm >= size_mm for leg in at_part)
    held = at_part[-1]
    assert held.held
    assert held.duration_s >= 1.5
    assert abs(legs[-1].to_mm - size_mm) > 0.3


def test_waiting_before_the_first_move_is_rest_away_from_zero() -> None:
    legs = walk(MICROMETER_MOVES, start_s=2.0)
    waiting = [s for s in sample_stream(legs, rate_hz=10.0) if s.t_s < 2.0]
    assert {sample.measurand for sample in waiting} == {"rest"}
    assert {sample.true_mm for sample in waiting} == {5.0}
    assert next(iter(sample_presses(legs))).measurand == "zero"


def test_a_stream_has_one_sample_a_tick() -> None:
    samples = list(sample_stream(stand_still(2.5, duration_s=3.0), rate_hz=8.0))
    assert [sample.t_s for sample in samples] == [tick / 8 for tick in range(24)]
    assert {sample.true_mm for sample in samples} == {2.5}


def test_a_move_to_where_the_jaws_are_is_no_rest() -> None:
    # The jaws wait at 5 mm, which is just where this size is approached from.
    legs = walk([Move(measurand="x", gesture=Gesture.SETTLED, size_mm=3.0)])
    assert [leg.held for leg in legs] == [False, False, True]


def test_a_leg_is_smooth_and_stays_at_its_ends() -> None:
    leg = Leg(
        measurand="x",
        placing=0,
        begin_s=1.0,
        duration_s=2.0,
        from_mm=4.0,
        to_mm=6.0,
        held=False,
    )
    assert [leg.size_at(t_s) for t_s in (0.0, 1.0, 2.0, 3.0, 9.0)] == [4.0, 4.0, 5.0, 6.0, 6.0]
