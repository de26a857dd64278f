"""What a spring costs that is not what the barrel should have: the score, in points.

One point is the harm of one per cent of torque too little. Every term is zero over a free
zone and grows in proportion beyond it, so that its mean over normal uncertainties is closed
(``normal.mean_above_zero``); the score is that mean, the expected loss. Charges are added
for what has to be done or is not known.

    torque    100 points per unit of ln ratio too weak, 110 too strong: knocking is worse
    height    400 per mm above the limit; 100 per mm more than 0.10 mm below it
    fill      50 per unit of ln fill outside the free zone
    run       100 per unit of ln turns short of what is needed
    charges   3 to cut it; 5 to change the outer end, 1 where it is not known; 5 for blued
              steel in place of an alloy; 10 if the movement may knock

Which of two steps is worse follows the order of common practice: height never above and up
to 0.1 mm below, then the nearest thickness and the thinner of two alike, then the length
within a tenth either way and rather longer, then end and alloy. The numbers are judgement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, StrEnum
from typing import TYPE_CHECKING

from gaugelink.choosing.measures import Measures
from gaugelink.choosing.normal import mean_above_zero

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array

FREE_BELOW_MM = 0.10  # lower by so much costs no more than its torque: common practice
FILL = (0.45, 0.62)  # common practice
OVERFILLED = 50.0  # points per unit of ln fill
FREE_LENGTH = 0.10  # a tenth either way: under 1 % of the turns near half fill


class Part(StrEnum):
    """What a part of the score is for."""

    WEAK = "torque too low"
    STRONG = "torque too high"
    HIGH = "height above the limit"
    LOW = "height far below the limit"
    SHORT = "too little fill"
    LONG = "too much fill"
    RUN = "too few turns"
    CHARGES = "work and doubts"


class Charge(Enum):
    """What has to be done to a spring, or is not known of it."""

    CUT = "cut"  # shortened, and the outer end made anew
    END = "end"  # of another kind than the barrel's
    END_UNKNOWN = "end unknown"
    STEEL_FOR_WHITE = "steel for white"  # sets and breaks where an alloy did not
    MAY_KNOCK = "may knock"

    @property
    def points(self) -> float:
        """Return what it costs: judgement."""
        return _CHARGES[self]


_CHARGES = {
    Charge.CUT: 3.0,
    Charge.END: 5.0,
    Charge.END_UNKNOWN: 1.0,
    Charge.STEEL_FOR_WHITE: 5.0,
    Charge.MAY_KNOCK: 10.0,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """Points per unit by which a measure lies beyond an edge, above it or below."""

    part: Part
    measure: str
    side: int
    edge: float
    points: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FillZone:
    """Between which fills a spring costs nothing, and the one to cut to."""

    low: float
    high: float
    target: float


def terms_for(zone: FillZone) -> tuple[Term, ...]:
    """Return the terms of the score, charges apart."""
    import numpy as np

    low, high = float(np.log(zone.low)), float(np.log(zone.high))
    return (
        Term(part=Part.WEAK, measure="torque", side=-1, edge=0.0, points=100.0),
        Term(part=Part.STRONG, measure="torque", side=1, edge=0.0, points=110.0),
        Term(part=Part.HIGH, measure="height", side=1, edge=0.0, points=400.0),
        Term(part=Part.LOW, measure="height", side=-1, edge=-FREE_BELOW_MM, points=100.0),
        Term(part=Part.SHORT, measure="fill", side=-1, edge=low, points=50.0),
        Term(part=Part.LONG, measure="fill", side=1, edge=high, points=OVERFILLED),
        Term(part=Part.RUN, measure="run", side=-1, edge=0.0, points=100.0),
    )


def parts(terms: Sequence[Term], values: Measures, u: Measures) -> dict[Part, Array]:
    """Compute the expected points of every part but the charges.

    Args:
        terms: of the score.
        values: the measures, for one state or for draws.
        u: what is still uncertain about them.
    """
    return {term.part: _points(term, values, u) for term in terms}


def total(terms: Sequence[Term], values: Measures, u: Measures) -> Array:
    """Compute the expected points without the charges."""
    first, *rest = terms
    points = _points(first, values, u)
    for term in rest:
        points = points + _points(term, values, u)
    return points


def _points(term: Term, values: Measures, u: Measures) -> Array:
    beyond = term.side * (getattr(values, term.measure) - term.edge)
    return term.points * mean_above_zero(beyond, getattr(u, term.measure))
