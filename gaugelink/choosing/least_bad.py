"""Where nothing fits: the refused spring that the least change would make do."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from gaugelink.choosing.case import Case
from gaugelink.choosing.ranking import scores_of
from gaugelink.choosing.refusals import Why
from gaugelink.choosing.results import LeastBad
from gaugelink.mechanics.arrangement import Winding

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array

LEAST_PLAY_MM = 0.05  # small ladies' movements have so little: from memory
# Beyond these it is another spring: judgement.
TORQUE = (0.5, 2.0)
CHANGED_END = 15.0  # points; a bridle made fixed, or a fixed end made to slip
_HOPELESS = (Why.KNOCKS, Why.STOPWORK)


def least_bad(case: Case) -> LeastBad | None:
    """Return the change that is least bad; None where no change would help.

    The score is that of the spring as it is, refusals set aside, and ``CHANGED_END`` where
    its outer end has to be changed.
    """
    import numpy as np

    at = np.flatnonzero(_may_be_helped(case))
    if len(at) == 0:
        return None
    scores = scores_of(case, at) + CHANGED_END * case.judged.hit[Why.OUTER_END][at]
    best = int(scores.argmin())
    position = int(at[best])
    spring = case.stock[position]
    changes = [
        change(case, position) for why, change in _CHANGES.items() if case.judged.hit[why][position]
    ]
    size = f"{spring.height_mm:.3g} x {spring.thickness_mm:.3g} x {spring.length_mm:.0f} mm"
    return LeastBad(
        item=spring.item,
        score=float(scores[best]),
        text=f"{spring.item} ({size}): {', and '.join(changes)}.",
    )


def _may_be_helped(case: Case) -> Array:
    import numpy as np

    judged = case.judged
    play = case.inputs.barrel.clearance.value if case.known.limit_from_depth else 0.0
    hopeless = np.any([judged.hit[why] for why in _HOPELESS], axis=0)
    high = judged.hit[Why.TOO_HIGH] & (judged.height_over_mm > play - LEAST_PLAY_MM)
    torque = (judged.torque < TORQUE[0]) | (judged.torque > TORQUE[1])
    helped: Array = ~(hopeless | high | torque)
    return helped


def _order(case: Case, at: int) -> str:
    return "order one, there is none on hand"


def _less_play(case: Case, at: int) -> str:
    play = case.inputs.barrel.clearance.value
    left = play - float(case.judged.height_over_mm[at])
    return (
        f"leave {left:.2f} mm of play above it instead of {play:.2f} mm, once the depth has been "
        "measured again"
    )


def _low(case: Case, at: int) -> str:
    return f"accept that it stands {-case.judged.height_over_mm[at]:.2f} mm low and may tip"


def _strong(case: Case, at: int) -> str:
    return f"accept about {case.judged.torque[at]:.2f} times the torque, and listen for knocking"


def _weak(case: Case, at: int) -> str:
    return f"accept about {case.judged.torque[at]:.2f} times the torque"


def _short(case: Case, at: int) -> str:
    return f"accept a fill of {case.judged.fill[at]:.2f} and fewer turns"


def _end(case: Case, at: int) -> str:
    slips = case.watch.winding is Winding.AUTOMATIC
    return f"make it a new outer end that {'slips' if slips else 'holds'}"


_CHANGES: dict[Why, Callable[[Case, int], str]] = {
    Why.NONE_ON_HAND: _order,
    Why.TOO_HIGH: _less_play,
    Why.TOO_LOW: _low,
    Why.TOO_STRONG: _strong,
    Why.TOO_WEAK: _weak,
    Why.TOO_SHORT: _short,
    Why.OUTER_END: _end,
}
