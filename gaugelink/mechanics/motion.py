"""Amplitude: what a measured one says of the movement, and what to expect with another spring.

In steady motion the balance loses per beat what the train brings it. With a loss that
goes as the square of the amplitude A, and the same losses on the way, A goes as the
square root of the torque. If part of the loss is dry friction, which goes as A, the
exponent rises: 1 / (s + 2 (1 - s)) with s the dry share, 0.5 at none and 0.67 at half of
it. A clean movement is near 0.5 and a dirty or old one above, never below, so the band
is one-sided; where to end it is judgement. Only ratios enter: no efficiency of the train
is known well enough to be put in.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from gaugelink.errors import SizingError
from gaugelink.mechanics.band import Band
from gaugelink.model import Advice

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number, Truth


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


class WishedThickness(NamedTuple):
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
    "Nobody measured that, and no figure here depends on it."
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
        text="A stronger spring does not cure dirt, dry oil or a faulty escapement: check these "
        "first.",
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


CLEAN_EXPONENT = 0.5
OLD_EXPONENT = 1 / (0.5 + 2 * (1 - 0.5))  # half of the loss is dry friction: 2/3
# The roller jewel strikes the outside of the fork: geometric, below 360 degrees because
# jewel and horn have width. Angles from memory; printed sources say "approaching 360".
KNOCKING_FROM_DEG = 320.0
MOST_DEG = 330.0
# Losses change with amplitude, position and oil; beyond this much the law is a guess.
# Judgement.
LAW_HOLDS = (0.7, 1.3)


class Expected(NamedTuple):
    """Amplitudes in degrees to expect, one band for each torque band given.

    ``low_deg`` and ``high_deg`` end at ``MOST_DEG``, where the movement knocks and no
    longer swings wider. ``may_knock`` and ``will_knock`` say whether the upper or even the
    lower limit reaches the angle where knocking begins; ``extrapolated`` that the torque
    changes by more than the law is good for. Each is a float or bool, or an array.
    """

    low_deg: Number
    high_deg: Number
    may_knock: Truth
    will_knock: Truth
    extrapolated: Truth


def expected_amplitude(measured_deg: float, torque_ratio: Band) -> Expected:
    """Compute the amplitude in degrees to expect when the torque changes by a ratio.

    A_2 = A_1 (M_2 / M_1)^exponent, with the exponents and limits of this module.

    Args:
        measured_deg: amplitude measured with the old spring, above 0 and up to 360.
        torque_ratio: new over old torque at the same state of wind, above 0. A tired old
            spring gives less than its dimensions say, and the true ratio is then higher.

    Raises:
        SizingError: the measured amplitude is not possible.
    """
    import numpy as np

    check_amplitude(measured_deg)
    low, high = torque_ratio.low, torque_ratio.high
    least = measured_deg * np.minimum(low**CLEAN_EXPONENT, low**OLD_EXPONENT)
    most = measured_deg * np.maximum(high**CLEAN_EXPONENT, high**OLD_EXPONENT)
    return Expected(
        low_deg=np.minimum(least, MOST_DEG),
        high_deg=np.minimum(most, MOST_DEG),
        may_knock=most >= KNOCKING_FROM_DEG,
        will_knock=least >= KNOCKING_FROM_DEG,
        extrapolated=np.logical_or(low < LAW_HOLDS[0], high > LAW_HOLDS[1]),
    )


def torque_for_amplitude(measured_deg: float, wished_deg: float) -> Band:
    """Compute the torque ratio that changes a measured amplitude to a wished one.

    (A_2 / A_1)^(1 / exponent): the square, or for an old movement the power 1.5.

    Args:
        measured_deg: amplitude measured with the old spring.
        wished_deg: amplitude wished for, in the same position and state of wind.

    Raises:
        SizingError: an amplitude is not possible, or the wished one would knock.
    """
    check_amplitude(measured_deg)
    check_amplitude(wished_deg)
    if wished_deg >= KNOCKING_FROM_DEG:
        raise SizingError(
            f"At {wished_deg:g} degrees the roller jewel knocks on the outside of the fork.",
            inputs=("amplitude",),
            hint=f"Wish for less than {KNOCKING_FROM_DEG:g} degrees; 270 to 315 is good motion.",
        )
    ratio = wished_deg / measured_deg
    ends = sorted((ratio ** (1 / CLEAN_EXPONENT), ratio ** (1 / OLD_EXPONENT)))
    return Band(low=ends[0], high=ends[1])


def thickness_for_torque(thickness_mm: float, torque_ratio: Band) -> Band:
    """Compute the thickness in mm that changes the torque by a ratio, all else the same.

    e goes as the square root of the torque where both springs took their set on their own
    arbor and as its cube root where both have one free shape; the band holds both.

    Args:
        thickness_mm: thickness of the old spring.
        torque_ratio: new over old torque, above 0.
    """
    ends = [
        thickness_mm * ratio**exponent
        for ratio in (torque_ratio.low, torque_ratio.high)
        for exponent in (1 / 2, 1 / 3)
    ]
    return Band(low=min(ends), high=max(ends))


def check_amplitude(amplitude_deg: float) -> None:
    """Refuse an amplitude that no balance has.

    Raises:
        SizingError: it is not above 0 and up to 360 degrees.
    """
    if not 0 < amplitude_deg <= 360:
        raise SizingError(
            f"An amplitude of {amplitude_deg:g} degrees is not possible.",
            inputs=("amplitude",),
            hint="Give the swing to one side in degrees, as a timing machine shows it.",
        )
