"""A fusee: the cone that a chain pulls at, wider where the spring is weaker.

The chain pulls with one force at both its ends, so that with the torque M of the spring after
t turns of the barrel, n turns of the fusee after full wind::

    torque at the fusee   M(t) d(n) / D
    turns of the barrel   t = (integral of d dn) / D

D is the outside diameter of the barrel and d that of the cone, both where the middle of the
chain lies. At full wind the chain lies on the whole cone and pulls at its small end.

The diameters between the two ends are those of a straight cone, d linear in n, or of the curve
that makes a torque even which falls straight with the turns, 1 / d^2 linear in n: M d constant
and dM / dn in proportion to -d give d(1 / d^2) / dn constant. Derived here. ``hollow`` says how
far from the one to the other a cone goes.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import reduce
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number

Torque: TypeAlias = Callable[[Any], Any]  # in N mm, by the turns of the barrel

# The spring needs the turns that the chain takes on the barrel and about three quarters of a
# turn of set-up: Workshop Receipts, 4th series, 1885.
USUAL_SET_UP = 0.75
_PLACES = 7  # along the cone, at which the torque is looked at
_STEPS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Fusee:
    """A fusee and its barrel; every field is a float or an array, diameters in mm.

    Args:
        small_mm: diameter at the small end, over the middle of the chain.
        large_mm: the same at the large end.
        turns: of chain on the cone.
        barrel_outside_mm: outside diameter of the barrel, over the middle of the chain.
        hollow: 0 for a straight cone, 1 for the curve that makes a straight torque even.
    """

    small_mm: Number
    large_mm: Number
    turns: Number
    barrel_outside_mm: Number
    hollow: Number = 1.0

    @property
    def chain_turns(self) -> Number:
        """Turns of the barrel that the chain takes."""
        return barrel_turns(self, 1.0)

    @property
    def chain_mm(self) -> Number:
        """Length of the chain on the cone, in mm."""
        return math.pi * self.barrel_outside_mm * self.chain_turns


def hollow_of(small_mm: Number, middle_mm: Number, large_mm: Number) -> Number:
    """Compute how hollow a cone is from its diameters in mm at none, half and all of its turns.

    Zero where both ends are alike.
    """
    import numpy as np

    straight = (small_mm + large_mm) / 2
    deepest = straight - ((small_mm**-2 + large_mm**-2) / 2) ** -0.5
    apart = np.greater(deepest, 0.0)
    hollow: Number = np.where(apart, (straight - middle_mm) / np.where(apart, deepest, 1.0), 0.0)[
        ()
    ]
    return hollow


class FuseeRun(NamedTuple):
    """What one spring gives at the fusee, from full wind until the chain is on the barrel.

    ``evenness`` is the least torque over the most, 1 where it is the same all the way;
    ``spare_turns`` are left of the spring beside chain and set-up, negative where it has too few:
    it is tight before all the chain is on the fusee, drives ``fusee_turns`` of it, and ``top_nmm``
    is what its tight coils would give there.
    """

    top_nmm: Number
    bottom_nmm: Number
    evenness: Number
    spare_turns: Number
    fusee_turns: Number
    best_set_up: Number
    best_evenness: Number


def diameter_mm(fusee: Fusee, part: Number) -> Number:
    """Compute the diameter in mm at which the chain pulls after a part, 0 to 1, of the turns."""
    straight = fusee.small_mm + (fusee.large_mm - fusee.small_mm) * part
    curve = _inverse_square(fusee, part) ** -0.5
    return straight + fusee.hollow * (curve - straight)


def barrel_turns(fusee: Fusee, part: Number) -> Number:
    """Compute the turns of the barrel over a part, 0 to 1, of the turns of the fusee.

    The integral of the diameter over the turns, closed for both shapes; over the whole cone
    that is the mean of the two ends, or 2 / (1 / small + 1 / large).
    """
    straight = fusee.small_mm * part + (fusee.large_mm - fusee.small_mm) * part**2 / 2
    curve = 2 * part / (_inverse_square(fusee, part) ** 0.5 + 1 / fusee.small_mm)
    mean = straight + fusee.hollow * (curve - straight)
    return fusee.turns * mean / fusee.barrel_outside_mm


def _inverse_square(fusee: Fusee, part: Number) -> Number:
    small, large = 1 / fusee.small_mm**2, 1 / fusee.large_mm**2
    return small + (large - small) * part


def fusee_run(fusee: Fusee, torque: Torque, usable: Number, set_up: Number) -> FuseeRun:
    """Compute what a spring gives at the fusee.

    Args:
        fusee: cone and barrel.
        torque: of the spring in N mm, by barrel turns since its coils were tight.
        usable: barrel turns from there until its torque ends.
        set_up: barrel turns left when the chain is on the barrel.
    """
    import numpy as np

    chain = fusee.chain_turns
    spare = usable - set_up - chain
    best = best_set_up(fusee, torque, usable)
    top, *_, bottom = torques = _torques(fusee, torque, spare)
    at_small_end = fusee.small_mm / fusee.barrel_outside_mm
    return FuseeRun(
        top_nmm=top,
        bottom_nmm=bottom,
        evenness=_evenness(torques),
        spare_turns=spare,
        fusee_turns=np.maximum(fusee.turns + np.minimum(spare, 0.0) / at_small_end, 0.0),
        best_set_up=best,
        best_evenness=_evenness(_torques(fusee, torque, usable - best - chain)),
    )


def best_set_up(fusee: Fusee, torque: Torque, usable: Number) -> Number:
    """Compute the barrel turns of set-up at which both ends of the cone give one torque.

    More set-up strengthens the bottom more than the top, so this is where the torque is
    evenest, unless it is uneven between the ends; no more than the spring has beside the chain.
    False position, halved where an end of the bracket stays (Illinois).

    Args:
        fusee: cone and barrel.
        torque: as in ``fusee_run``.
        usable: as in ``fusee_run``.
    """
    import numpy as np

    chain = fusee.chain_turns

    def excess(set_up: Number) -> Number:
        bottom = usable - set_up
        above = torque(np.maximum(bottom - chain, 0.0)) * fusee.small_mm
        more: Number = above - torque(bottom) * fusee.large_mm
        return more

    most = np.maximum(usable - chain, 0.0)
    low, high = np.zeros_like(most), most
    at_low, at_high = excess(low), excess(high)
    never, always = at_high >= 0, at_low <= 0
    for _ in range(_STEPS):
        apart = np.where(at_low == at_high, 1.0, at_low - at_high)
        middle = np.clip(low + (high - low) * at_low / apart, low, high)
        at_middle = excess(middle)
        below = at_middle > 0
        low, high = np.where(below, middle, low), np.where(below, high, middle)
        at_low, at_high = (
            np.where(below, at_middle, at_low / 2),
            np.where(below, at_high / 2, at_middle),
        )
    set_up: Number = np.where(never, most, np.where(always, 0.0, middle))[()]
    return set_up


def _torques(fusee: Fusee, torque: Torque, first: Number) -> list[Number]:
    """Torque at the fusee, in N mm, at places along the cone, from the small end on."""
    import numpy as np

    return [
        torque(np.maximum(first + barrel_turns(fusee, part), 0.0))
        * diameter_mm(fusee, part)
        / fusee.barrel_outside_mm
        for part in (place / (_PLACES - 1) for place in range(_PLACES))
    ]


def _evenness(torques: list[Number]) -> Number:
    import numpy as np

    least, most = reduce(np.minimum, torques), reduce(np.maximum, torques)
    evenness: Number = least / np.where(most > 0, most, 1.0)
    return evenness
