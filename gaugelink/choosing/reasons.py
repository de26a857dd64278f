"""Why a spring is where it is, with the points that each costs, and what is doubtful."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from gaugelink.choosing.acting import in_barrel
from gaugelink.choosing.case import Case, cut_length_mm, reach_of
from gaugelink.choosing.choice import Reach, Reason
from gaugelink.choosing.drawn import ContenderFigures
from gaugelink.choosing.loss import FREE_LENGTH, Charge, Part
from gaugelink.choosing.ranking import weigh
from gaugelink.choosing.springs import Mask, Positions
from gaugelink.choosing.state import REFERENCE_TEXT, ReferenceKind
from gaugelink.mechanics.arrangement import BarrelKind
from gaugelink.mechanics.motion import Expected, Wind, expected_advice, motion_advice
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.stopwork import stopwork_warnings, winding_advice
from gaugelink.mechanics.stress import stress_warnings
from gaugelink.model import Advice
from gaugelink.sizing.checks import unused_signs
from gaugelink.sizing.covered import NotCovered
from gaugelink.sizing.order import RESERVE_H
from gaugelink.units import percent

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.uncertainty.estimate import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Grounds:
    """What the reasons of the contenders are made from; every column in their order."""

    case: Case
    at: Positions
    figures: ContenderFigures
    parts: Mapping[Part, Array]
    charges: Mapping[Charge, Mask]
    shorter_mm: Array

    def points(self, j: int, *which: Part) -> float:
        """Return the points of some parts of the score."""
        return sum(float(self.parts[part][j]) for part in which)


def grounds_of(case: Case, at: Positions, figures: ContenderFigures) -> Grounds:
    """Return what the reasons of contenders are made from."""
    weighed = weigh(case, at)
    return Grounds(
        case=case,
        at=at,
        figures=figures,
        parts=weighed.parts,
        charges=weighed.charges,
        shorter_mm=cut_length_mm(case.known.best, case.fitted.springs.taken(at), case.zone),
    )


def reasons_for(grounds: Grounds, j: int) -> tuple[Reason, ...]:
    """Return the reasons of one contender."""
    return (
        *_height(grounds, j),
        _torque(grounds, j),
        *_gain(grounds, j),
        _fill(grounds, j),
        _run(grounds, j),
        *_wish(grounds, j),
        *_charges(grounds, j),
        *_longer(grounds, j),
    )


def _height(grounds: Grounds, j: int) -> Iterator[Reason]:
    fits, limit = grounds.figures.probability_fits(j), grounds.case.known.best.limit_mm
    if fits is None or limit is None:
        yield Reason(text="Height not checked: no depth was measured.")
        return
    height = grounds.case.stock[int(grounds.at[j])].height_mm
    room = float(limit) - height
    side = f"{room:.2f} mm below" if room >= 0 else f"{-room:.2f} mm above"
    points = grounds.points(j, Part.HIGH, Part.LOW)
    yield Reason(
        text=f"Height {height:.3g} mm, {side} the {float(limit):.2f} mm that leave the usual "
        f"play; chance of that play: {percent(fits)}.",
        points=points,
    )


def _torque(grounds: Grounds, j: int) -> Reason:
    ratio = grounds.figures.torque_ratio(j)
    whose = REFERENCE_TEXT[grounds.case.known.reference]
    own = grounds.case.stock[int(grounds.at[j])].thickness_mm
    wanted = float(grounds.case.known.best.thickness_mm)
    return Reason(
        text=f"Thickness {own:.3g} mm for {wanted:.3g} mm: torque {ratio.low:.2f} to "
        f"{ratio.high:.2f} times that of {whose}.",
        points=grounds.points(j, Part.WEAK, Part.STRONG),
    )


def _gain(grounds: Grounds, j: int) -> Iterator[Reason]:
    """What it gives against the found spring, which may be tired."""
    ratio, measured = grounds.figures.torque_to_found(j), grounds.case.inputs.barrel.amplitude
    if ratio is None:
        return
    tired = "" if grounds.case.inputs.barrel.found_healthy else ", which may be tired"
    later = ", 24 h after winding" if measured and measured.wind is Wind.DAY_LATER else ""
    yield Reason(
        text=f"Gives {ratio.low:.2f} to {ratio.high:.2f} times the torque of the spring "
        f"found{tired}{later}."
    )


def _fill(grounds: Grounds, j: int) -> Reason:
    zone, fill = grounds.case.zone, grounds.figures.fill(j)
    return Reason(
        text=f"Fills {fill.value:.2f} of the ring; {zone.low:.2f} to {zone.high:.2f} costs "
        "nothing.",
        points=grounds.points(j, Part.SHORT, Part.LONG),
    )


def _run(grounds: Grounds, j: int) -> Reason:
    hours, turns = grounds.figures.hours_to_stop(j), grounds.figures.turns_usable(j)
    points = grounds.points(j, Part.RUN)
    if hours is None:
        drives = "Drives the watch" if grounds.case.watch.turns_tell_hours else "Turns this barrel"
        return Reason(text=f"{drives} for about {turns.value:.1f} turns.", points=points)
    return Reason(
        text=f"Runs {_span(hours.low, hours.high)} h until it stops (torque model and judgement, "
        f"friction left out); {RESERVE_H:.0f} h are wanted.",
        points=points,
    )


def _wish(grounds: Grounds, j: int) -> Iterator[Reason]:
    wish, expected = grounds.case.wish, grounds.figures.expected(j)
    if wish is None or expected is None:
        return
    told = _REACHES[reach_of(wish, expected)].format(wish.amplitude_deg)
    yield Reason(text=f"Swings {_span(expected.low_deg, expected.high_deg)} degrees{told}.")


def _span(low: Number, high: Number) -> str:
    """Write two limits in whole numbers, as one where they are alike."""
    least, most = f"{low:.0f}", f"{high:.0f}"
    return most if least == most else f"{least} to {most}"


def _charges(grounds: Grounds, j: int) -> Iterator[Reason]:
    for charge, hit in grounds.charges.items():
        if hit[j]:
            yield Reason(text=charge.text, points=charge.points)


def _longer(grounds: Grounds, j: int) -> Iterator[Reason]:
    """Offer to shorten a spring that is fitted whole though it is longer than it need be."""
    shorter = float(grounds.shorter_mm[j])
    length = grounds.case.stock[int(grounds.at[j])].length_mm
    if not grounds.charges[Charge.CUT][j] and length > shorter * (1 + FREE_LENGTH):
        yield Reason(text=f"Longer than it need be: it may be cut to {shorter:.0f} mm.")


_REACHES = {
    Reach.SHORT: ", short of the {:g} wished for",
    Reach.WITHIN: ", and {:g} are wished for",
    Reach.BEYOND: ", more than the {:g} wished for",
}
SURE = 0.95  # ISO 14253-1


def doubts(case: Case) -> tuple[Advice, ...]:
    """List what is doubtful about the barrel, the reference and the movement."""
    return tuple(_doubts(case))


def not_covered(refused: Iterable[NotCovered]) -> tuple[Advice, ...]:
    """List what was asked about the watch and no rule covers."""
    return tuple(
        Advice(code="not-covered", text=f"{no.asked}: {no.reason} {no.hint}") for no in refused
    )


def pick_doubts(
    case: Case, at: int, fits: float | None, expected: Expected | None
) -> tuple[Advice, ...]:
    """List what to look at before a pick is fitted.

    ``fits`` is the probability that it is not too high.
    """
    return (
        *_doubts_height(fits),
        *(() if expected is None else expected_advice(expected)),
        *_of_spring(case, at),
    )


def _doubts(case: Case) -> Iterator[Advice]:
    barrel = case.inputs.barrel
    if len(case.stock) == 0:
        yield Advice(code="stock-empty", text="The stock holds no springs: read a list in first.")
    if case.known.reference is ReferenceKind.RULE:
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
    yield from unused_signs(barrel)
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
            text="How far this barrel turns in 24 h is not known: the torque at full wind is "
            "used for 24 h later too.",
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
        "spring are the other way round, which a list seldom says.",
    ),
}


def _doubts_height(fits: float | None) -> Iterator[Advice]:
    if fits is not None and fits < SURE:
        yield Advice(
            code="height-not-proven",
            text=f"Chance of the usual play only {percent(fits)}: measure its height, and the "
            "depth again, before you fit it.",
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
