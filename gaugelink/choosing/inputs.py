"""What a choice starts from: the barrel, the watch around it, and what may be relied on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from gaugelink.choosing.strip import Grade
from gaugelink.errors import InputError
from gaugelink.mechanics.arrangement import Asked, refuse_uncovered
from gaugelink.sizing.inputs import SizingInputs


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoosingInputs:
    """What is known of the barrel and of the strip that springs are made of.

    Args:
        barrel: the barrel, the springs known of, the watch around it; with those wishes
            only that a rule covers, see ``sizing.covered``.
        found_healthy: whether the found spring is the right one and in good condition, so
            that a new one should do the same.
        strip: how closely strip is rolled where the stock does not state tolerances.
    """

    barrel: SizingInputs
    found_healthy: bool = False
    strip: Grade = Grade.PRECISION


class Reference(StrEnum):
    """What the torque of a spring is compared with."""

    DOCUMENTED = "documented"
    FOUND = "found"
    RULE = "rule"


REFERENCE_TEXT = {
    Reference.DOCUMENTED: "the documented spring",
    Reference.FOUND: "the found spring, taken as healthy",
    Reference.RULE: "the half-area rule",
}


def reference_of(inputs: ChoosingInputs) -> Reference:
    """Return what to compare with: a document, a healthy found spring, a rule, in that order.

    Raises:
        InputError: the found spring is said to be healthy and its thickness is not known.
        SizingError: only the rule is left, and it does not hold for this kind of barrel.
    """
    barrel = inputs.barrel
    if barrel.documented is not None:
        return Reference.DOCUMENTED
    if barrel.found is not None and inputs.found_healthy:
        return Reference.FOUND
    if inputs.found_healthy:
        raise InputError(
            "The found spring is said to be healthy, but its thickness is not known.",
            hint="Measure it, or give --found-thickness and if possible height and length.",
        )
    refuse_uncovered(barrel.arrangement, Asked.SIZE)
    return Reference.RULE
