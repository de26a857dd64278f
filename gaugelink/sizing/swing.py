"""What an amplitude measured with the found spring says of the movement, and of other springs."""

from __future__ import annotations

from collections.abc import Iterator

from gaugelink.mechanics.motion import (
    Wind,
    expected_advice,
    expected_amplitude,
    motion_advice,
    thickness_for_amplitude,
)
from gaugelink.model import Advice
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.results import Foreseen, Motion, RatioInterval


def foreseen(inputs: SizingInputs, to_found: RatioInterval | None) -> Foreseen | None:
    """Return the amplitude in degrees to expect with a spring; None where none was measured.

    Args:
        inputs: the amplitude measured with the found spring.
        to_found: torque of the spring over that of the found one, in the same state of wind.
    """
    if inputs.amplitude is None or to_found is None:
        return None
    expected = expected_amplitude(inputs.amplitude.amplitude_deg, to_found.whole)
    return Foreseen(
        low_deg=float(expected.low_deg),
        high_deg=float(expected.high_deg),
        may_knock=bool(expected.may_knock),
        will_knock=bool(expected.will_knock),
        extrapolated=bool(expected.extrapolated),
        advice=expected_advice(expected),
    )


def motion(inputs: SizingInputs) -> Motion | None:
    """Return what the measured amplitude calls for before any spring; None without one.

    Raises:
        SizingError: an amplitude is not possible, or the wished one would knock.
    """
    measured = inputs.amplitude
    if measured is None:
        return None
    wished_deg = inputs.wished_amplitude_deg
    wished = None
    if wished_deg is not None and inputs.found is not None:
        thickness_mm = inputs.found.thickness.value
        wished = thickness_for_amplitude(measured, wished_deg, thickness_mm)
    advice = motion_advice(measured) if wished is None else wished.advice
    return Motion(
        measured=measured,
        advice=(*advice, *_missing(inputs)),
        wished_deg=wished_deg,
        wished=wished,
    )


def _missing(inputs: SizingInputs) -> Iterator[Advice]:
    """What the amplitude cannot say for want of something else."""
    measured = inputs.amplitude
    if inputs.found is None:
        yield Advice(
            code="amplitude-of-no-spring",
            text="The amplitude was measured with a spring whose sizes are not known: no other "
            "spring can be compared with it.",
        )
    elif measured is not None and measured.wind is Wind.DAY_LATER and not inputs.hours_per_turn:
        yield Advice(
            code="amplitude-state",
            text="The hours per turn are not known, so the torque at full wind is used for 24 h "
            "later too.",
        )
