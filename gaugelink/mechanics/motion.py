"""What a measured amplitude says of the movement, before a spring is blamed for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from gaugelink.mechanics.amplitude import (
    KNOCKING_FROM_DEG,
    check_amplitude,
    thickness_for_torque,
    torque_for_amplitude,
)
from gaugelink.mechanics.band import Band
from gaugelink.model import Advice

if TYPE_CHECKING:
    from gaugelink.mechanics.amplitude import Expected


class Position(StrEnum):
    """How the watch lay."""

    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"


class Wind(StrEnum):
    """How far the spring was wound."""

    FULL = "full wind"
    DAY_LATER = "24 h later"


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredAmplitude:
    """An amplitude in degrees with the old spring, and the state it was taken in."""

    amplitude_deg: float
    position: Position = Position.HORIZONTAL
    wind: Wind = Wind.FULL


@dataclass(frozen=True, slots=True, kw_only=True)
class WishedThickness:
    """What a wished amplitude takes: torque over that of the old spring, thickness in mm.

    ``advice`` comes first, before either is suggested to anybody.
    """

    torque_ratio: Band
    thickness_mm: Band
    advice: tuple[Advice, ...]


LEAST_DEG = {
    # Good motion is 270: W. J. Kleinlein, Rules and Practice for Adjusting Watches, 1920,
    # no. 51; 270 to 315: watchdoctor.biz 2018 and the WatchTime glossary, "Amplitude".
    (Position.HORIZONTAL, Wind.FULL): 270.0,
    # H. Jendritzki, Watch Adjusting, second-hand: not below 200 to 220.
    (Position.VERTICAL, Wind.DAY_LATER): 200.0,
}
SERVICE_BELOW_DEG = 200.0  # full wind, horizontal: common practice

# A saying of the trade, to be shown as one: no source measures it, and nothing is computed
# with it.
POWER_SAYING = (
    "The trade says that some 70 % of the power is lost between barrel and balance. "
    "No measurement stands behind the number, and no figure here depends on it."
)


def motion_advice(measured: MeasuredAmplitude) -> tuple[Advice, ...]:
    """List what a measured amplitude calls for, service before a stronger spring.

    Raises:
        SizingError: the amplitude is not possible.
    """
    check_amplitude(measured.amplitude_deg)
    return tuple(_motion(measured))


def expected_advice(expected: Expected) -> tuple[Advice, ...]:
    """List what an expected amplitude warns of; for a single spring, not for arrays."""
    return tuple(_expected(expected))


def thickness_for_amplitude(
    measured: MeasuredAmplitude, wished_deg: float, thickness_mm: float
) -> WishedThickness:
    """Compute the thickness in mm that gives a wished amplitude, with what to do before.

    Args:
        measured: amplitude with the old spring.
        wished_deg: amplitude wished for, in the same position and state of wind.
        thickness_mm: thickness of the old spring, above 0.

    Raises:
        SizingError: an amplitude is not possible, or the wished one would knock.
    """
    ratio = torque_for_amplitude(measured.amplitude_deg, wished_deg)
    stronger = wished_deg > measured.amplitude_deg
    return WishedThickness(
        torque_ratio=ratio,
        thickness_mm=thickness_for_torque(thickness_mm, ratio),
        advice=(*motion_advice(measured), *(_STRONGER if stronger else ())),
    )


_STRONGER = (
    Advice(
        code="stronger-spring",
        text="A stronger spring cures no dirt, no dry oil and no fault of the escapement: "
        "look for these first.",
    ),
)


def _motion(measured: MeasuredAmplitude) -> Iterator[Advice]:
    swing = measured.amplitude_deg
    least = LEAST_DEG.get((measured.position, measured.wind), 0.0)
    at_top = measured.position is Position.HORIZONTAL and measured.wind is Wind.FULL
    if swing >= KNOCKING_FROM_DEG:
        yield Advice(
            code="knocks-already",
            text=f"At {swing:.0f} degrees the movement knocks with the old spring: "
            "take no stronger one.",
        )
    elif at_top and swing < SERVICE_BELOW_DEG:
        yield Advice(
            code="service-first",
            text=f"{swing:.0f} degrees at full wind, lying flat, is below "
            f"{SERVICE_BELOW_DEG:.0f}: clean, oil and check the escapement before blaming the "
            "spring.",
        )
    elif swing < least:
        yield Advice(
            code="amplitude-low",
            text=f"{swing:.0f} degrees ({measured.position}, {measured.wind}) is below the usual "
            f"{least:.0f}: when was the movement last cleaned and oiled?",
        )


def _expected(expected: Expected) -> Iterator[Advice]:
    if expected.will_knock:
        yield Advice(
            code="knocks",
            text="This spring makes the movement knock: the roller jewel strikes the outside of "
            "the fork.",
        )
    elif expected.may_knock:
        yield Advice(
            code="may-knock",
            text=f"Up to {expected.high_deg:.0f} degrees may be reached, and knocking begins near "
            f"{KNOCKING_FROM_DEG:.0f}: listen at full wind, or take a weaker spring.",
        )
    if expected.extrapolated:
        yield Advice(
            code="amplitude-guess",
            text="The torque changes by more than 30 %, beyond what the amplitude law is good for.",
        )
