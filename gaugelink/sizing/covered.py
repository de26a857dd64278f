"""What of all that was asked the rules cover for this arrangement of barrel and winding."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

from gaugelink.errors import SizingError
from gaugelink.mechanics.arrangement import Asked, BarrelKind, check_arrangement, refuse_uncovered
from gaugelink.mechanics.train import Train, hours_per_turn
from gaugelink.sizing.inputs import SizingInputs

_HOURS_AGREE = 0.01  # part by which stated hours may be rounded


class NotCovered(NamedTuple):
    """Something that was asked and is not worked out, the reason, and what to do instead."""

    asked: Asked
    reason: str
    hint: str


class Covered(NamedTuple):
    """Inputs with only those wishes that a rule covers, and the others with their reasons.

    ``inputs.hours_per_turn`` holds what the train gives where no hours were stated; with the cone
    of a fusee they are those of the fusee, and stand with it.
    """

    inputs: SizingInputs
    refused: tuple[NotCovered, ...]


def covered(inputs: SizingInputs) -> Covered:
    """Keep the wishes that a rule covers, and work out the hours per turn from the train.

    Asking again with the inputs that come out refuses nothing more.

    Raises:
        SizingError: parts of the arrangement do not go together, or the stated hours per
            turn are not those of the train.
    """
    check_arrangement(inputs.arrangement)
    _check_cone(inputs)
    _check_train(inputs)
    inputs = _with_hours_of_fusee(inputs)
    refused: list[NotCovered] = []
    if inputs.train is not None and inputs.hours_per_turn is None:
        inputs = _with_hours(inputs, refused)
    if inputs.hours_per_turn is not None and (no := _refusal(inputs, Asked.RESERVE)):
        refused.append(no)
        inputs = replace(inputs, hours_per_turn=None, train=None)
    if inputs.winding_train is not None and (no := _refusal(inputs, Asked.CROWN_TURNS)):
        refused.append(no)
        inputs = replace(inputs, winding_train=None)
    return Covered(inputs=inputs, refused=tuple(refused))


def refused_rules(inputs: SizingInputs) -> tuple[NotCovered, ...]:
    """Return why no rule may give thickness and length here; empty where rules may."""
    return tuple(_refusals(inputs, Asked.SIZE))


def _with_hours(inputs: SizingInputs, refused: list[NotCovered]) -> SizingInputs:
    from_arbor = inputs.train_from_arbor and inputs.arrangement.kind is BarrelKind.MOTOR
    no = None if from_arbor else _refusal(inputs, Asked.HOURS_FROM_BARREL)
    if no is not None:
        refused.append(no)
        return replace(inputs, train=None)
    if inputs.train is None:
        return inputs
    hours = hours_per_turn(inputs.train, last_turn_h=inputs.last_turn_h)
    return replace(inputs, hours_per_turn=hours)


def _with_hours_of_fusee(inputs: SizingInputs) -> SizingInputs:
    """With its cone known the hours go by the turns of the fusee, whose wheel begins the train."""
    hours = inputs.hours_per_turn
    if inputs.fusee is None or (hours is None and inputs.train is None):
        return inputs
    if hours is None and inputs.train is not None:
        hours = hours_per_turn(inputs.train, last_turn_h=inputs.last_turn_h)
    fusee = replace(inputs.fusee, hours_per_turn=hours)
    return replace(inputs, fusee=fusee, hours_per_turn=None, train=None)


def _refusal(inputs: SizingInputs, asked: Asked) -> NotCovered | None:
    return next(_refusals(inputs, asked), None)


def _refusals(inputs: SizingInputs, asked: Asked) -> Iterator[NotCovered]:
    try:
        refuse_uncovered(inputs.arrangement, asked)
    except SizingError as error:
        yield NotCovered(asked=asked, reason=str(error), hint=error.hint)


def _check_cone(inputs: SizingInputs) -> None:
    if inputs.fusee is None:
        return
    if inputs.arrangement.kind is not BarrelKind.FUSEE:
        raise SizingError(
            f"A {inputs.arrangement.kind} barrel does not pull a fusee.",
            inputs=("fusee", "barrel"),
            hint="Give --barrel fusee, or leave --fusee and --barrel-outside out.",
        )
    if inputs.arrangement.stopwork is not None:
        raise SizingError(
            "A fusee is stopped by its chain and has no stopwork on the barrel.",
            inputs=("fusee", "stopwork"),
            hint='Give the set-up as the fourth number: --fusee "6 11 6.5 0.75".',
        )


def _check_train(inputs: SizingInputs) -> None:
    if inputs.train is None:
        return
    if inputs.train_from_arbor and inputs.arrangement.kind is BarrelKind.GOING:
        raise SizingError(
            "The arbor of a going barrel winds the spring and drives nothing.",
            inputs=("train", "barrel"),
            hint="Give the train from the teeth of the barrel, or say that it is a motor barrel.",
        )
    if inputs.hours_per_turn is not None:
        check_hours(inputs.train, inputs.hours_per_turn, last_turn_h=inputs.last_turn_h)


def check_hours(train: Train, stated_h: float, *, last_turn_h: float = 1.0) -> None:
    """Refuse hours per turn of the barrel that its train contradicts.

    Args:
        train: from the barrel on.
        stated_h: hours per turn that were stated, above 0.
        last_turn_h: hours in which the last pinion turns once, above 0.

    Raises:
        SizingError: they contradict each other.
    """
    by_train_h = hours_per_turn(train, last_turn_h=last_turn_h)
    if abs(by_train_h - stated_h) > _HOURS_AGREE * stated_h:
        raise SizingError(
            f"The train gives {by_train_h:.4g} h for a turn of the barrel, not {stated_h:.4g} h.",
            inputs=("train", "hours_per_turn"),
            hint="Count the teeth again, or leave one of the two out.",
        )
