"""What a spring costs that is not what the barrel should have: the score, in points.

One point is the harm of one per cent of torque too little. Every term is zero over a free
zone and grows in proportion beyond it, so that its mean over normal uncertainties is closed
(``mean_above_zero``); the score is that mean, the expected loss. Charges are added
for what has to be done or is not known.

    torque    100 points per unit of ln ratio too weak, 110 too strong: knocking is worse
    height    400 per mm above the limit; 100 per mm more than 0.10 mm below it
    fill      50 per unit of ln fill outside the free zone
    run       100 per unit of ln turns short of what is needed, by the weakest it may be of
    charges   3 to cut it; 5 to change the outer end, 1 where it is not known; 5 for blued
              steel in place of an alloy, or what may be it; 5 where its material is not known;
              10 if the movement may knock

Which of two steps is worse follows the order of common practice: height never above and up
to 0.1 mm below, then the nearest thickness and the thinner of two alike, then the length
within a tenth either way and rather longer, then end and alloy. The numbers are judgement.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, StrEnum
from typing import TYPE_CHECKING

from gaugelink.choosing.measures import Measures

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
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


class Charge(Enum):
    """What has to be done to a spring, or is not known of it: points (judgement), in words."""

    CUT = 3.0, "Too long: cut it to length and make a new outer end."
    END = 5.0, "Its outer end does not suit the barrel and must be changed."
    END_UNKNOWN = 1.0, "The list does not say what outer end it has."
    STEEL_FOR_WHITE = 5.0, "Blued steel in place of a white alloy: it sets and breaks sooner."
    MATERIAL_UNKNOWN = 5.0, "The list does not name its material: it may be weak or strong."
    UNKNOWN_FOR_WHITE = 5.0, "It may be blued steel in place of a white alloy."
    MAY_KNOCK = 10.0, "Going by the measured amplitude, the movement may knock."

    def __init__(self, points: float, text: str) -> None:
        self.points, self.text = points, text


@dataclass(frozen=True, slots=True, kw_only=True)
class LossTerm:
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


def terms_for(zone: FillZone) -> tuple[LossTerm, ...]:
    """Return the terms of the score, charges apart."""
    import numpy as np

    low, high = float(np.log(zone.low)), float(np.log(zone.high))
    return (
        LossTerm(part=Part.WEAK, measure="torque", side=-1, edge=0.0, points=100.0),
        LossTerm(part=Part.STRONG, measure="torque", side=1, edge=0.0, points=110.0),
        LossTerm(part=Part.HIGH, measure="height", side=1, edge=0.0, points=400.0),
        LossTerm(part=Part.LOW, measure="height", side=-1, edge=-FREE_BELOW_MM, points=100.0),
        LossTerm(part=Part.SHORT, measure="fill", side=-1, edge=low, points=50.0),
        LossTerm(part=Part.LONG, measure="fill", side=1, edge=high, points=OVERFILLED),
        LossTerm(part=Part.RUN, measure="run", side=-1, edge=0.0, points=100.0),
    )


def parts(terms: Sequence[LossTerm], values: Measures, u: Measures) -> dict[Part, Array]:
    """Compute the expected points of every part but the charges.

    Args:
        terms: of the score.
        values: the measures, for one state or for draws.
        u: what is still uncertain about them.
    """
    return {term.part: _points(term, values, u) for term in terms}


def total(terms: Sequence[LossTerm], values: Measures, u: Measures) -> Array:
    """Compute the expected points without the charges."""
    first, *rest = terms
    points = _points(first, values, u)
    for term in rest:
        points = points + _points(term, values, u)
    return points


def _points(term: LossTerm, values: Measures, u: Measures) -> Array:
    beyond = term.side * (getattr(values, term.measure) - term.edge)
    return term.points * mean_above_zero(beyond, getattr(u, term.measure))


# M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 26.2.17: the tail beyond
# z >= 0 is the density times this series in t = 1 / (1 + p z). Off by less than 7.5e-8
# anywhere, far below what a probability or a point of the score is shown with.
_P = 0.2316419
_B = (0.319381530, -0.356563782, 1.781477937, -1.821255978, 1.330274429)
_NARROW = 1e-3  # of u: a tolerance below it changes no probability by 1e-6
_ROUNDING = 1e-9  # mm: 1.64 - 0.31 - 0.10 is not quite 1.23 in binary


def cdf(z: Array) -> Array:
    """Return the probability that a standard normal quantity lies below z."""
    import numpy as np

    size = np.abs(z)
    tail = _density(size) * _tail_over_density(size)
    return np.where(z > 0, 1 - tail, tail)


def mean_above_zero(mean: Number, u: Number) -> Array:
    """Return the mean of max(X, 0) for a normal X.

    u phi(z) + m Phi(z) with z = m / u, written as max(m, 0) + u phi(z) - |m| Phi(-|z|): two
    parts of which neither is the small difference of large ones.

    Args:
        mean: mean m of X.
        u: its standard uncertainty, 0 or more; at 0 max(m, 0) is returned.
    """
    import numpy as np

    if np.ndim(u) == 0 and u == 0:
        return np.maximum(mean, 0.0)
    uncertain = np.maximum(u, 1e-300)
    size = np.minimum(np.abs(mean) / uncertain, 40.0)  # beyond, the density is zero
    spread: Array = u * _density(size) * (1 - size * _tail_over_density(size))
    return np.maximum(mean, 0.0) + np.maximum(spread, 0.0)


def probability_below(room: Number, u: Number, tolerance: Number) -> Array:
    """Return the probability that a part within a tolerance is no more than a limit allows.

    JCGM 106:2012, clause 7, with the nominal size of the part off by anything up to the
    tolerance alike and the limit normal: the mean of Phi over the tolerance zone.

    Args:
        room: best value of the limit less the nominal size.
        u: standard uncertainty of the limit, 0 or more.
        tolerance: half-width of the tolerance zone, 0 or more, in the same unit.
    """
    import numpy as np

    room, u, tolerance = np.broadcast_arrays(
        *(np.asarray(part, dtype=float) for part in (room, u, tolerance))
    )
    known = u <= 0
    scale = np.where(known, 1.0, u)
    wide = tolerance > _NARROW * scale
    half = np.where(wide, tolerance / scale, 1.0)
    above, below = room / scale + half, room / scale - half
    mean = (mean_above_zero(above, 1.0) - mean_above_zero(below, 1.0)) / (2 * half)
    unsure = np.where(wide, mean, cdf(room / scale))
    return np.clip(np.where(known, share_below(room, tolerance), unsure), 0.0, 1.0)


def share_below(room: Array, tolerance: Array) -> Array:
    """Return the share of a tolerance zone that a known limit allows, 0 to 1.

    Args:
        room: the limit less the nominal size.
        tolerance: half-width of the zone; at 0 the size is exact, and fits at no room at all.
    """
    import numpy as np

    half = np.where(tolerance > 0, tolerance, 1.0)
    within = np.clip((room + half) / (2 * half), 0.0, 1.0)
    return np.where(tolerance > 0, within, np.where(room >= -_ROUNDING, 1.0, 0.0))


def _density(z: Array) -> Array:
    import numpy as np

    return np.exp(-z * z / 2) / math.sqrt(2 * math.pi)


def _tail_over_density(z: Array) -> Array:
    t = 1 / (1 + _P * z)
    return t * (_B[0] + t * (_B[1] + t * (_B[2] + t * (_B[3] + t * _B[4]))))
