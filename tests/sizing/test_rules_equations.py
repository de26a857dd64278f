from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from barrels import Barrel, random_barrels
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar

from gaugelink.sizing import rules as eq


@pytest.mark.parametrize(
    ("depth", "lid", "recess", "clearance", "height"),
    [(1.64, 0.31, 0.0, 0.10, 1.23), (1.64, 0.31, 0.08, 0.10, 1.31), (2.0, 0.5, 0.5, 0.0, 2.0)],
)
def test_height_from_rim_by_hand(
    depth: float, lid: float, recess: float, clearance: float, height: float
) -> None:
    assert eq.available_height_from_rim(depth, lid, recess, clearance) == pytest.approx(height)


@pytest.mark.parametrize(
    ("depth", "recess", "clearance", "height"), [(1.33, 0.0, 0.10, 1.23), (1.33, 0.08, 0.10, 1.31)]
)
def test_height_from_seat_by_hand(
    depth: float, recess: float, clearance: float, height: float
) -> None:
    assert eq.available_height_from_seat(depth, recess, clearance) == pytest.approx(height)


def test_ratios_by_hand() -> None:
    assert eq.thickness_by_ratio(8.7) == pytest.approx(0.1)
    assert eq.length_by_ratio(11.0, 35) == 385.0


@given(random_barrels)
def test_turns_are_alike_for_a_fill_and_its_complement(barrel: Barrel) -> None:
    bore, arbor, thickness, length = barrel.sizes
    other = length * (1 - barrel.fill) / barrel.fill
    turns = eq.development_turns(bore, arbor, thickness, length)
    assert eq.development_turns(bore, arbor, thickness, other) == pytest.approx(turns)


@given(random_barrels, st.floats(0.1, 10.0))
def test_numbers_do_not_depend_on_the_unit_of_length(barrel: Barrel, scale: float) -> None:
    scaled = [scale * size for size in barrel.sizes]
    for number in (eq.development_turns, eq.spiral_turns, eq.fill):
        assert number(*scaled) == pytest.approx(number(*barrel.sizes), rel=1e-9)


@given(random_barrels, st.floats(0.2, 5.0))
def test_most_turns_and_half_area_length_go_as_one_over_the_thickness(
    barrel: Barrel, k: float
) -> None:
    bore, arbor, thickness, _ = barrel.sizes
    length = eq.half_area_length(bore, arbor, thickness)
    turns = eq.development_turns(bore, arbor, thickness, length)
    assert eq.half_area_length(bore, arbor, k * thickness) == pytest.approx(length / k)
    assert eq.development_turns(bore, arbor, k * thickness, length / k) == pytest.approx(turns / k)


@settings(max_examples=30)
@given(random_barrels)
def test_no_other_length_gives_more_turns_than_half_area(barrel: Barrel) -> None:
    bore, arbor, thickness, _ = barrel.sizes
    longest = math.pi * (bore**2 - arbor**2) / (4 * thickness)
    best = minimize_scalar(
        lambda length: -eq.development_turns(bore, arbor, thickness, length),
        bounds=(0.01 * longest, 0.99 * longest),
        method="bounded",
    )
    half_area = eq.half_area_length(bore, arbor, thickness)
    assert best.x == pytest.approx(half_area, rel=1e-4)
    assert eq.development_turns(bore, arbor, thickness, half_area) >= -best.fun * (1 - 1e-12)


def test_half_area_length_is_the_best_of_a_grid() -> None:
    import numpy as np

    lengths = np.linspace(1.0, 700.0, 6_991)
    bore, arbor, e = (np.full_like(lengths, size) for size in (11.0, 11 / 3, 0.12))
    turns = eq.development_turns(bore, arbor, e, lengths)
    assert lengths[np.argmax(turns)] == pytest.approx(
        eq.half_area_length(11.0, 11 / 3, 0.12), abs=0.05
    )


@given(random_barrels, st.floats(3.0, 12.0))
def test_thickness_for_turns_gives_these_turns_at_half_area(barrel: Barrel, turns: float) -> None:
    bore, arbor, _, _ = barrel.sizes
    thickness = eq.thickness_for_turns(bore, arbor, turns)
    length = eq.half_area_length(bore, arbor, thickness)
    assert eq.development_turns(bore, arbor, thickness, length) == pytest.approx(turns)


@given(random_barrels)
def test_both_bands_have_the_area_of_the_strip(barrel: Barrel) -> None:
    bore, arbor, thickness, length = barrel.sizes
    inner = eq.run_down_inner_diameter(bore, thickness, length)
    outer = eq.wound_outer_diameter(arbor, thickness, length)
    area = length * thickness
    assert math.pi * (bore**2 - inner**2) / 4 == pytest.approx(area)
    assert math.pi * (outer**2 - arbor**2) / 4 == pytest.approx(area)


@given(random_barrels)
def test_coil_count_times_mean_circumference_is_the_length(barrel: Barrel) -> None:
    bore, arbor, thickness, length = barrel.sizes
    down = eq.coils_run_down(bore, thickness, length)
    wound = eq.coils_wound(arbor, thickness, length)
    assert math.pi * down * (bore - down * thickness) == pytest.approx(length)
    assert math.pi * wound * (arbor + wound * thickness) == pytest.approx(length)


def test_turns_are_the_change_of_curvature_along_the_strip() -> None:
    bore, arbor, e, length = 11.0, 11 / 3, 0.12, 352.0
    inner = eq.run_down_inner_diameter(bore, e, length) / 2

    def change(s: float) -> float:
        wound = ((arbor / 2) ** 2 + e * s / math.pi) ** -0.5
        down = (inner**2 + e * s / math.pi) ** -0.5
        return float(wound - down)

    turns = quad(change, 0, length)[0] / (2 * math.pi)
    assert eq.development_turns(bore, arbor, e, length) == pytest.approx(turns, rel=1e-9)


def _spiral_coils(start: float, pitch: float, length: float) -> float:
    """Coils of an Archimedean spiral by its arc length: r = start + pitch * angle / 2 pi."""
    rate = pitch / (2 * math.pi)

    def speed(angle: float) -> float:
        return math.hypot(start + rate * angle, rate)

    def missing(angle: float) -> float:
        return float(quad(speed, 0, angle)[0]) - length

    furthest = 0.999 * start / abs(rate) if rate < 0 else 4 * length / start
    return float(brentq(missing, 0, furthest)) / (2 * math.pi)


@pytest.mark.parametrize(
    ("bore", "arbor", "e", "length"),
    [(11.0, 11 / 3, 0.12, 351.97), (6.5, 2.0, 0.075, 180.0), (20.0, 7.0, 0.25, 600.0)],
)
def test_spiral_turns_agree_with_the_arc_length_of_spirals(
    bore: float, arbor: float, e: float, length: float
) -> None:
    wound = _spiral_coils((arbor + e) / 2, e, length)
    down = _spiral_coils((bore - e) / 2, -e, length)
    # the equation takes the arc length without the slope of the strip
    assert eq.spiral_turns(bore, arbor, e, length) == pytest.approx(wound - down, abs=3e-4)


@given(random_barrels)
def test_spiral_loses_about_the_width_of_the_ring_over_the_common_diameter(barrel: Barrel) -> None:
    bore, arbor, e, _ = barrel.sizes
    length = eq.half_area_length(bore, arbor, e)
    loss = eq.development_turns(bore, arbor, e, length) - eq.spiral_turns(bore, arbor, e, length)
    common = eq.wound_outer_diameter(arbor, e, length)
    assert loss == pytest.approx((bore - arbor) / (2 * common), abs=0.03)


@given(random_barrels)
def test_fill_is_edge_area_over_ring_area(barrel: Barrel) -> None:
    assert eq.fill(*barrel.sizes) == pytest.approx(barrel.fill)


def test_torque_pieces_by_hand() -> None:
    assert eq.torque_at_limit(1.5, 0.2) == pytest.approx(0.06)
    assert eq.torque_of_equal_shape(1.5, 0.2, 400.0) == pytest.approx(3e-5)


_EVERY = [
    (eq.available_height_from_rim, (1.6, 0.3, 0.1, 0.1)),
    (eq.available_height_from_seat, (1.3, 0.1, 0.1)),
    (eq.thickness_by_ratio, (11.0,)),
    (lambda bore: eq.length_by_ratio(bore, 30), (11.0,)),
    (eq.half_area_length, (11.0, 3.6, 0.12)),
    (eq.run_down_third_length, (11.0, 0.12)),
    (eq.wound_third_length, (11.0, 3.6, 0.12)),
    (lambda bore, arbor: eq.thickness_for_turns(bore, arbor, 7.0), (11.0, 3.6)),
    (eq.run_down_inner_diameter, (11.0, 0.12, 350.0)),
    (eq.wound_outer_diameter, (3.6, 0.12, 350.0)),
    (eq.coils_run_down, (11.0, 0.12, 350.0)),
    (eq.coils_wound, (3.6, 0.12, 350.0)),
    (eq.development_turns, (11.0, 3.6, 0.12, 350.0)),
    (eq.spiral_turns, (11.0, 3.6, 0.12, 350.0)),
    (eq.fill, (11.0, 3.6, 0.12, 350.0)),
    (eq.torque_at_limit, (1.2, 0.12)),
    (eq.torque_of_equal_shape, (1.2, 0.12, 350.0)),
]


@pytest.mark.parametrize(("equation", "sizes"), _EVERY)
def test_arrays_give_what_floats_give(
    equation: Callable[..., Any], sizes: tuple[float, ...]
) -> None:
    import numpy as np

    factors = np.array([0.9, 1.0, 1.1])
    by_array = equation(*(size * factors for size in sizes))
    one_by_one = [equation(*(size * factor for size in sizes)) for factor in factors.tolist()]
    np.testing.assert_allclose(np.asarray(by_array), one_by_one, rtol=1e-14)
