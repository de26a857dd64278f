"""What is doubtful about a choice: barrel and stock as a whole, and each pick."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

from gaugelink.choosing.acting import in_barrel
from gaugelink.choosing.case import Case
from gaugelink.choosing.inputs import Reference
from gaugelink.choosing.wording import percent
from gaugelink.mechanics.arrangement import BarrelKind
from gaugelink.mechanics.motion import Expected, Wind, expected_advice, motion_advice
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.stopwork import stopwork_warnings, winding_advice
from gaugelink.mechanics.stress import stress_warnings
from gaugelink.model import Advice
from gaugelink.sizing.covered import Refused

SURE = 0.95  # ISO 14253-1


def doubts(case: Case) -> tuple[Advice, ...]:
    """List what is doubtful about the barrel, the reference and the movement."""
    return tuple(_doubts(case))


def not_covered(refused: Iterable[Refused]) -> tuple[Advice, ...]:
    """List what was asked about the watch and no rule covers."""
    return tuple(
        Advice(code="not-covered", text=f"{no.asked}: {no.reason} {no.hint}") for no in refused
    )


def pick_doubts(
    case: Case, at: int, fits: float | None, expected: Expected | None
) -> tuple[Advice, ...]:
    """List what to look at before a pick is fitted.

    Args:
        case: barrel and stock.
        at: position of the pick in the stock.
        fits: probability that it is not too high.
        expected: the amplitude to expect.
    """
    return (
        *_height(fits),
        *(() if expected is None else expected_advice(expected)),
        *_of_spring(case, at),
    )


def _doubts(case: Case) -> Iterator[Advice]:
    barrel = case.inputs.barrel
    if len(case.stock) == 0:
        yield Advice(code="stock-empty", text="The stock holds no springs: read a list in first.")
    if case.known.reference is Reference.RULE:
        yield Advice(
            code="reference-rule",
            text="The reference is a rule of thumb, thickness bore / 87 (common practice, no "
            "source): watches with bore / 80 to bore / 100 run well too. A documented size would "
            "be worth more than any better measurement.",
        )
    if not case.known.limit_from_depth:
        yield Advice(
            code="height-not-measured",
            text="No depth is known: measure depth and lid before any of these is fitted.",
        )
    if barrel.arbor is None:
        yield Advice(code="arbor-assumed", text="No arbor was given: a third of the bore is taken.")
    if case.watch.hours_per_turn is None and case.watch.turns_tell_hours:
        yield Advice(
            code="hours-unknown",
            text="The hours per barrel turn are not known: turns are compared, not hours.",
        )
    if barrel.arrangement.kind in _OF_KIND:
        yield _OF_KIND[barrel.arrangement.kind]
    yield from winding_advice(barrel.arrangement)
    yield from _movement(case)


def _movement(case: Case) -> Iterator[Advice]:
    measured = case.inputs.barrel.amplitude
    if measured is None:
        return
    wish = case.wish
    yield from motion_advice(measured) if wish is None else wish.takes.advice
    if measured.wind is Wind.DAY_LATER and not case.watch.turns_tell_hours:
        yield Advice(
            code="amplitude-state",
            text="How far this barrel turns in 24 h is not known: the torque at full wind stands "
            "for that 24 h later.",
        )
    if case.expected is None:
        yield Advice(
            code="amplitude-unused",
            text="An amplitude says something of a new spring only where the torque of the found "
            "one is known: measure its thickness, height and length.",
        )


# What a choice by the barrel alone does not know; common practice.
_OF_KIND = {
    BarrelKind.FUSEE: Advice(
        code="fusee",
        text="With a fusee the usual fill does not hold, and the turns of the barrel are not "
        "hours: check them against the chain.",
    ),
    BarrelKind.TWIN: Advice(
        code="two-barrels",
        text="There are two barrels, and these springs are for one of them: turns are compared, "
        "not hours, which depend on both. Measure the other as well; its spring may be another "
        "one.",
    ),
    BarrelKind.MOTOR: Advice(
        code="motor-barrel",
        text="A motor barrel winds at the barrel and drives from its arbor: hook and hand of the "
        "spring are the other way round, which a list hardly tells.",
    ),
}


def _height(fits: float | None) -> Iterator[Advice]:
    if fits is not None and fits < SURE:
        yield Advice(
            code="height-not-proven",
            text=f"It fits with a probability of {percent(fits)} only: measure its height, and the "
            "depth again, before it is fitted.",
        )


def _of_spring(case: Case, at: int) -> Iterator[Advice]:
    """What its stress and its turns leave doubtful, at best values."""
    import numpy as np

    one = np.array([at])
    springs = case.fitted.springs.taken(one)
    spring = in_barrel(case.known.best, springs, case.watch)
    material = springs.materials[int(springs.material[0])]
    single = replace(spring, **{name: _single(value) for name, value in _sizes(spring)})
    yield from stress_warnings(single, material.yield_mpa.high)
    yield from stopwork_warnings(single, case.watch.stopwork)


def _sizes(spring: SpringInBarrel) -> Iterator[tuple[str, Any]]:
    from dataclasses import fields

    for each in fields(spring):
        yield each.name, getattr(spring, each.name)


def _single(value: Any) -> float:
    import numpy as np

    return float(np.ravel(value)[0])
