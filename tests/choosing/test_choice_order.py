"""What to order: the steps of the trade around what the barrel should have."""

from __future__ import annotations

import pytest
from choosing_bench import EXACT, given, job

from gaugelink.choosing.case import prepare
from gaugelink.choosing.choice import Order, Range
from gaugelink.choosing.choose_spring import what_to_order
from gaugelink.mechanics.arrangement import Arrangement
from gaugelink.mechanics.materials import end_named


def ordered(**of_barrel: object) -> Order:
    return what_to_order(prepare(job(**of_barrel), []))


@pytest.mark.parametrize(
    ("thickness", "target"),
    [
        (0.12, 0.12),
        (0.1224, 0.12),
        (0.1225, 0.12),  # of two alike the thinner
        (0.1226, 0.125),
        (0.173, 0.17),  # in hundredths above 0.15
        (0.175, 0.17),
        (0.002, 0.005),
    ],
)
def test_thickness_is_the_nearest_step(thickness: float, target: float) -> None:
    order = ordered(documented=given(thickness, 1.5, 350.0))
    assert order.thickness.target == pytest.approx(target)


def test_thicknesses_within_a_tenth_of_the_torque_will_do() -> None:
    assert ordered(documented=given(0.1325, 1.5)).thickness == Range(
        target=0.13, low=0.13, high=0.135
    )


def test_height_surely_fits_and_is_no_more_than_the_document_says() -> None:
    # Limit 1.51 mm; 1.645 times hypot(0.0224, 0.0115) is 0.041: ISO 14253-1.
    assert ordered().height == Range(target=1.45, low=1.35, high=1.45)
    # Strip within 0.02 mm is left of an exact barrel: 1.51 - 0.019.
    assert ordered(u=EXACT).height == Range(target=1.45, low=1.35, high=1.45)
    assert ordered(u=EXACT, sizes={"depth": 1.935}).height == Range(target=1.5, low=1.4, high=1.5)
    assert ordered(documented=given(0.12, 1.3)).height == Range(target=1.3, low=1.2, high=1.3)
    assert ordered(depth=None, lid=None).height is None


def test_length_follows_the_thickness_that_is_ordered() -> None:
    # The document's fill of 0.497 at 0.12 x 350; at 0.125 mm that is 336 mm.
    order = ordered(documented=given(0.1226, 1.5, 342.6))
    assert order.thickness.target == 0.125
    assert order.length == Range(target=340.0, low=310.0, high=360.0)


def test_the_end_of_the_barrel_is_ordered_with_it() -> None:
    assert ordered().end is None
    assert ordered(arrangement=Arrangement(end=end_named("tongue"))).end == "tongue"
