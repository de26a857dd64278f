"""Which springs of a stock are refused, for reasons that stand in one table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import Enum
from typing import TYPE_CHECKING

from gaugelink.choosing.acting import Watch, in_barrel, spare_turns
from gaugelink.choosing.measures import height_over, log_fill, log_torque
from gaugelink.choosing.normal import probability_below
from gaugelink.choosing.springs import Mask, Springs
from gaugelink.choosing.state import KnownState
from gaugelink.mechanics.arrangement import Winding

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array

# More likely too high than not: "never above", common practice.
LEAST_PROBABILITY = 0.5
LEAST_OF_HEIGHT = 0.75  # of the limit: below, coils tip, cone and rub; judgement
# A step of 0.01 mm in thickness at 0.08 mm and more; two steps are another spring. Judgement.
TORQUE = (0.70, 1.40)
# "A third to a half of the free space": a clock-parts supplier's advice page, m-p.co.uk.
LEAST_FILL = 1 / 3
_ROUNDING = 1e-6


class Why(Enum):
    """Why a spring is refused, in the words of a heading."""

    NONE_ON_HAND = "none on hand"
    TOO_HIGH = "too high for the barrel"
    TOO_LOW = "far too low for the barrel"
    TOO_STRONG = "far too strong"
    TOO_WEAK = "far too weak"
    TOO_SHORT = "too short"
    OUTER_END = "outer end does not go with the winding"
    STOPWORK = "too few turns for the stopwork"
    KNOCKS = "would make the watch knock"


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What refusals are told from, a column each, and which springs each reason hits.

    ``probability_fits`` is None where no limit is known, ``torque`` is over that of the
    reference at full wind.
    """

    probability_fits: Array | None
    height_over_mm: Array
    torque: Array
    fill: Array
    hit: Mapping[Why, Mask]

    @property
    def refused(self) -> Mask:
        """Which springs are refused for any reason."""
        import numpy as np

        refused: Mask = np.any(list(self.hit.values()), axis=0)
        return refused


def judge(known: KnownState, springs: Springs, watch: Watch, will_knock: Mask | None) -> Judged:
    """Tell which springs are refused.

    Args:
        known: barrel and reference.
        springs: as they would be fitted.
        watch: what the barrel stands in.
        will_knock: which springs make the movement knock; None where nobody can say.
    """
    import numpy as np

    fits = _probability_fits(known, springs)
    torque, fill = np.exp(log_torque(known.best, springs)), np.exp(log_fill(known.best, springs))
    never, limit = np.zeros(len(springs), dtype=bool), known.best.limit_mm
    return Judged(
        probability_fits=fits,
        height_over_mm=height_over(known.best, springs),
        torque=torque,
        fill=fill,
        hit={
            Why.NONE_ON_HAND: ~springs.on_hand,
            Why.TOO_HIGH: never if fits is None else fits < LEAST_PROBABILITY - _ROUNDING,
            Why.TOO_LOW: never if limit is None else springs.height_mm < LEAST_OF_HEIGHT * limit,
            Why.TOO_STRONG: torque > TORQUE[1],
            Why.TOO_WEAK: torque < TORQUE[0],
            Why.TOO_SHORT: fill < LEAST_FILL,
            Why.OUTER_END: _wrong_end(springs, watch),
            Why.STOPWORK: _without_turns(known, springs, watch),
            Why.KNOCKS: never if will_knock is None else will_knock,
        },
    )


def _probability_fits(known: KnownState, springs: Springs) -> Array | None:
    if known.best.limit_mm is None:
        return None
    room = -height_over(known.best, springs)
    return probability_below(room, known.u("limit_mm"), springs.height_tolerance_mm)


def _wrong_end(springs: Springs, watch: Watch) -> Mask:
    """A plain spring in a smooth wall does not hold, a bridle in a hooked barrel does not slip."""
    automatic = watch.winding is Winding.AUTOMATIC
    return springs.of_end(lambda end: end is not None and end.slips != automatic)


def _without_turns(known: KnownState, springs: Springs, watch: Watch) -> Mask:
    """Too few turns even for the straightest of the free shapes, which has the most.

    Where they may be enough the turns that are short cost points, and a doubt says so.
    """
    import numpy as np

    if watch.stopwork is None:
        return np.zeros(len(springs), dtype=bool)
    straightest = replace(known.best, shape=1.0)
    spare = spare_turns(in_barrel(straightest, springs, watch), watch.stopwork)
    short: Mask = np.asarray(spare) < 0
    return short
