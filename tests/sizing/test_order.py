"""What to order: the steps of the trade around what the barrel should have, and what stops it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from gaugelink.mechanics.arrangement import Arrangement
from gaugelink.mechanics.materials import end_named, material_named
from gaugelink.mechanics.spring import SpringInBarrel, as_spiral
from gaugelink.mechanics.torque import torque_after, usable_turns
from gaugelink.sizing.inputs import STOPS_AT, GivenSpring, SizingInputs, typed_input
from gaugelink.sizing.order import Basis, HeightFrom, Order, Range, order_for, room_of


def given(
    name: str, thickness: float, height: float | None = None, length: float | None = None
) -> GivenSpring:
    sizes = {"height": height, "length": length}
    return GivenSpring(
        thickness=typed_input(f"{name}.thickness", thickness),
        **{
            which: None if size is None else typed_input(f"{name}.{which}", size)
            for which, size in sizes.items()
        },
    )


def barrel(bore: float = 11.0, **others: Any) -> SizingInputs:
    sizes = {"depth": 1.64, "lid": 0.31, "arbor": bore / 3, **others}
    quantities = {
        name: typed_input(name, size) if isinstance(size, float) else size
        for name, size in sizes.items()
    }
    return SizingInputs(bore=typed_input("bore", bore), **quantities)


def ordered(bore: float = 11.0, **others: Any) -> Order:
    order = order_for(barrel(bore, **others))
    assert order is not None
    return order


@pytest.mark.parametrize(
    ("bore", "target"),
    [
        (11.0, 0.125),  # 0.1264
        (10.4, 0.12),  # 0.1195
        (10.65, 0.12),  # 0.1224
        (15.0, 0.17),  # 0.1724, in hundredths above 0.15
        (6.0, 0.07),
    ],
)
def test_thickness_by_rule_is_the_nearest_step(bore: float, target: float) -> None:
    assert ordered(bore).thickness.target == pytest.approx(target)


def test_what_will_do_by_rule_lies_in_the_usual_bores_and_near_in_torque() -> None:
    """bore / 100 to bore / 80 is 0.11 to 0.1375: common practice; 0.85 to 1.2 times the torque."""
    assert ordered().thickness == Range(target=0.125, low=0.12, high=0.135)
    low, high = (0.12644 * ratio**0.4 for ratio in (0.85, 1.20))
    assert 0.115 < low < 0.12
    assert 0.135 < high < 0.14


def test_a_document_is_ordered_as_it_is_written() -> None:
    order = ordered(documented=given("documented", 0.13, 1.23, 400.0))
    assert order.basis is Basis.DOCUMENTED
    assert (order.thickness.target, order.length.target) == (0.13, 400.0)
    assert order.height is not None
    assert (order.height.target, order.height_from) == (1.23, HeightFrom.DOCUMENTED)
    assert order.play_mm == pytest.approx(0.10)


def test_a_healthy_found_spring_gives_its_nearest_step() -> None:
    order = ordered(found=given("found", 0.1226, 1.2, 380.0), found_healthy=True)
    assert (order.basis, order.thickness.target) == (Basis.FOUND, 0.125)


def test_height_goes_in_for_certain_and_leaves_the_usual_play() -> None:
    """1.33 mm below the lid with u = hypot(0.02, 0.01); 1.33 - 0.10 is 1.23, on the step 1.20."""
    order = ordered()
    assert order.height == Range(target=1.2, low=1.1, high=1.2)
    assert order.height_from is HeightFrom.ROOM
    room = room_of(barrel())
    assert room is not None
    assert room.certain_mm == pytest.approx(1.33 - 1.645 * np.hypot(0.02, 0.01), abs=1e-3)
    assert room.goes_in(1.33) == pytest.approx(0.5)
    assert room.goes_in(room.certain_mm) == pytest.approx(0.95, abs=1e-3)


def test_without_a_lid_only_the_depth_or_a_spring_limits_the_height() -> None:
    order = ordered(lid=None)
    assert order.height_from is HeightFrom.DEPTH
    assert order.height is not None
    assert order.height.target == 1.5
    assert order.play_mm is None
    found = ordered(lid=None, found=given("found", 0.12, 1.21))
    assert found.height_from is HeightFrom.FOUND
    assert ordered(lid=None, depth=None).height is None


def slow_turns(inputs: SizingInputs, thickness: float, length: float) -> float:
    """Turns until the torque is that at which the watch stops, by bisection of the curve."""
    arbor = inputs.arbor
    assert arbor is not None
    strip = SpringInBarrel(
        bore_mm=inputs.bore.value,
        arbor_mm=arbor.value,
        thickness_mm=thickness,
        length_mm=length,
        height_mm=1.0,
        modulus_mpa=inputs.material.modulus_mpa,
        full_wind_stress_mpa=inputs.material.healthy_mpa.median,
    )
    half = np.pi * (inputs.bore.value**2 - arbor.value**2) / (8 * thickness)
    needs = STOPS_AT.middle * float(torque_after(as_spiral(replace(strip, length_mm=half)), 0.5))
    spring = as_spiral(strip)
    low, high = 0.0, float(usable_turns(spring))
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if torque_after(spring, middle) > needs else (low, middle)
    return low


@pytest.mark.parametrize(("bore", "material"), [(11.0, "open"), (15.5, "carbon-steel")])
def test_length_is_the_one_with_which_the_watch_runs_longest(bore: float, material: str) -> None:
    inputs = barrel(bore, material=material_named(material))
    order = order_for(inputs)
    assert order is not None
    lengths = np.arange(200.0, 700.0, 10.0)
    turns = np.array([slow_turns(inputs, order.thickness.target, each) for each in lengths])
    assert abs(order.length.target - lengths[turns.argmax()]) <= 10.0
    enough = lengths[turns >= 0.985 * turns.max()]
    assert order.length.low == pytest.approx(enough[0], abs=10.0)
    assert order.length.high == pytest.approx(enough[-1], abs=10.0)


def test_the_lengths_of_factory_springs_lie_in_what_will_do() -> None:
    """Common practice: 0.125 x 400 in a bore of 11 mm, 0.196 x 508 in one of 15.5 mm."""
    assert ordered().length.low <= 400 <= ordered().length.high
    document = given("documented", 0.196, 2.05, 500.0)
    large = ordered(15.5, depth=2.59, lid=0.5, documented=document)
    assert large.length.low <= 508 <= large.length.high


def test_a_weaker_material_is_ordered_longer() -> None:
    """Fill 0.53 for a strong alloy to 0.60 for soft steel: the optimum of a finite strength."""
    weak = ordered(material=material_named("carbon-steel")).length.target
    strong = ordered(material=material_named("high-strength-cobalt")).length.target
    assert strong < weak


def test_the_end_of_the_barrel_is_ordered_with_it() -> None:
    assert ordered().end is None
    assert ordered(arrangement=Arrangement(end=end_named("tongue"))).end == "tongue"
