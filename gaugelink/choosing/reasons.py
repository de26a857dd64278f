"""Why a spring stands where it stands, in sentences with the points that each costs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gaugelink.choosing.acting import RESERVE_H
from gaugelink.choosing.case import Case
from gaugelink.choosing.cutting import cut_length_mm
from gaugelink.choosing.figures import Figures
from gaugelink.choosing.inputs import REFERENCE_TEXT
from gaugelink.choosing.loss import FREE_LENGTH, Charge, Part
from gaugelink.choosing.ranking import weigh
from gaugelink.choosing.results import Reason
from gaugelink.choosing.springs import Mask, Positions
from gaugelink.choosing.wish import Reach, reach_of
from gaugelink.choosing.wording import percent

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.uncertainty.estimate import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Grounds:
    """What the reasons of the contenders are made from; every column in their order."""

    case: Case
    at: Positions
    figures: Figures
    parts: Mapping[Part, Array]
    charges: Mapping[Charge, Mask]
    shorter_mm: Array

    def points(self, j: int, *which: Part) -> float:
        """Return the points of some parts of the score."""
        return sum(float(self.parts[part][j]) for part in which)


def grounds_of(case: Case, at: Positions, figures: Figures) -> Grounds:
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
        _fill(grounds, j),
        _run(grounds, j),
        *_wish(grounds, j),
        *_charges(grounds, j),
        *_longer(grounds, j),
    )


def _height(grounds: Grounds, j: int) -> Iterator[Reason]:
    fits, limit = grounds.figures.probability_fits(j), grounds.case.known.best.limit_mm
    if fits is None or limit is None:
        yield Reason(text="The height was not judged: no depth was measured.")
        return
    height = grounds.case.stock[int(grounds.at[j])].height_mm
    room = float(limit) - height
    side = f"{room:.2f} mm below" if room >= 0 else f"{-room:.2f} mm above"
    points = grounds.points(j, Part.HIGH, Part.LOW)
    yield Reason(
        text=f"Height {height:.3g} mm, {side} the {float(limit):.2f} mm allowed: fits with a "
        f"probability of {percent(fits)}.",
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


def _fill(grounds: Grounds, j: int) -> Reason:
    zone, fill = grounds.case.zone, grounds.figures.fill(j)
    return Reason(
        text=f"Fills {fill.value:.2f} of the ring; {zone.low:.2f} to {zone.high:.2f} costs "
        "nothing.",
        points=grounds.points(j, Part.SHORT, Part.LONG),
    )


def _run(grounds: Grounds, j: int) -> Reason:
    hours, turns = grounds.figures.hours(j), grounds.figures.turns_usable(j)
    points = grounds.points(j, Part.RUN)
    if hours is None:
        drives = "Drives the watch" if grounds.case.watch.turns_tell_hours else "Turns this barrel"
        return Reason(text=f"{drives} for about {turns.value:.1f} turns.", points=points)
    return Reason(
        text=f"Runs {_span(hours.low, hours.high)} h by the torque model, friction left out; "
        f"{RESERVE_H:.0f} h are wanted.",
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
            yield Reason(text=_CHARGED[charge], points=charge.points)


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
_CHARGED = {
    Charge.CUT: "Too long: it has to be cut, and the outer end made anew.",
    Charge.END: "Its outer end is of another kind than the barrel's and has to be changed.",
    Charge.END_UNKNOWN: "The list does not say what outer end it has.",
    Charge.STEEL_FOR_WHITE: "Blued steel in place of a white alloy: it sets and breaks sooner.",
    Charge.MAY_KNOCK: "By the amplitude measured the movement may knock.",
}
