"""Which side is the wrong one."""

from __future__ import annotations

import pytest

from gaugelink.model import Seek
from gaugelink.statistics.moments import WRONG_SIDES, Side


@pytest.mark.parametrize(
    ("sought", "side"),
    [
        (Seek.SETTLED, Side.EITHER),
        (Seek.MAXIMUM, Side.LOW),  # a bore reads short
        (Seek.MINIMUM, Side.HIGH),  # an arbor reads long
    ],
)
def test_a_badly_sought_reading_lies_short_of_its_extreme(sought: Seek, side: Side) -> None:
    assert WRONG_SIDES[sought] is side


@pytest.mark.parametrize(
    ("side", "up", "down"), [(Side.EITHER, 2.0, 2.0), (Side.HIGH, 2.0, -2.0), (Side.LOW, -2.0, 2.0)]
)
def test_beyond_points_to_the_side(side: Side, up: float, down: float) -> None:
    assert (side.beyond(2.0), side.beyond(-2.0)) == (up, down)
