"""An amplitude that is wished for, and which springs may give it.

A wish moves no spring in the ranking and refuses none. The torque to come near to is that of
the reference, and where a movement swings too little with that it wants cleaning before a
stronger spring: two aims for one torque would hide which of them a place is owed to. So each
spring is told to fall short of the wish, to hold it within its band or to go beyond it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from gaugelink.mechanics.motion import Expected, WishedThickness, thickness_for_amplitude
from gaugelink.sizing.inputs import SizingInputs

_ROUNDING_DEG = 0.5  # amplitudes are read and shown in whole degrees


class Reach(StrEnum):
    """How the amplitudes to expect of a spring lie to the one wished for."""

    SHORT = "short"
    WITHIN = "within"
    BEYOND = "beyond"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """An amplitude in degrees, in the state of the measured one, and what it takes."""

    amplitude_deg: float
    takes: WishedThickness


def wish_of(barrel: SizingInputs) -> Wish | None:
    """Return what is wished for; None without a wish, or where no spring can be told by it.

    Raises:
        SizingError: the amplitude is not possible, or would knock.
    """
    measured, found, wished_deg = barrel.amplitude, barrel.found, barrel.wished_amplitude_deg
    if measured is None or found is None or wished_deg is None:
        return None
    takes = thickness_for_amplitude(measured, wished_deg, found.thickness.value)
    return Wish(amplitude_deg=wished_deg, takes=takes)


def reach_of(wish: Wish, expected: Expected) -> Reach:
    """Tell how the amplitudes to expect of a single spring lie to the one wished for."""
    if expected.high_deg + _ROUNDING_DEG < wish.amplitude_deg:
        return Reach.SHORT
    if expected.low_deg - _ROUNDING_DEG > wish.amplitude_deg:
        return Reach.BEYOND
    return Reach.WITHIN
