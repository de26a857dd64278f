"""How barrel, winding and stopwork are arranged, and which rules then do not hold.

A rule is refused with its reason rather than stretched: what is not in the table of
refusals below is covered.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from gaugelink.errors import SizingError

if TYPE_CHECKING:
    from gaugelink.mechanics.materials import EndType


class BarrelKind(StrEnum):
    """What turns, and what the power passes through on its way to the train."""

    GOING = "going"  # arbor winds, barrel drives the train
    MOTOR = "motor"  # barrel winds, arbor drives the train
    FUSEE = "fusee"  # barrel pulls a chain or line off a fusee
    TWIN = "twin"  # two barrels, one after the other or side by side


class Winding(StrEnum):
    """How the watch is wound."""

    HAND = "hand"
    AUTOMATIC = "automatic"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stopwork:
    """A stop that lets the spring work over some of its turns only.

    ``turns`` is what it allows, ``set_up_turns`` what was wound before it was put on.
    """

    turns: float
    set_up_turns: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrangement:
    """What has to be asked before a rule may be applied; None where it was not answered."""

    kind: BarrelKind = BarrelKind.GOING
    winding: Winding = Winding.HAND
    stopwork: Stopwork | None = None
    end: EndType | None = None


class Asked(StrEnum):
    """What the person wants worked out."""

    SIZE = "thickness and length by rule"
    HOURS_FROM_BARREL = "hours per turn from the teeth of the barrel"
    RESERVE = "power reserve from the turns of the barrel"
    CROWN_TURNS = "crown turns to full wind"


class Refusal(NamedTuple):
    """Why something cannot be worked out here, and what to do instead."""

    reason: str
    hint: str


_FUSEE_TURNS = Refusal(
    # American Watchmaker and Jeweler, Chicago, note on the fusee; Workshop Receipts, 1885.
    reason="With a fusee the watch goes by the turns of the fusee, not by those of the barrel.",
    hint="Count the turns of chain on the fusee and its teeth; the spring needs the turns that "
    "the chain takes on the barrel and about three quarters of a turn of set-up.",
)
_FUSEE_TURNS_OR_CONE = _FUSEE_TURNS._replace(
    hint=f"{_FUSEE_TURNS.hint} With --fusee and --barrel-outside both are worked out."
)
_TWO_BARRELS = Refusal(
    reason="With two barrels the hours depend on whether they run together or after one another.",
    hint="State the hours per barrel turn, or watch one turn against a clock.",
)
REFUSALS = {
    (BarrelKind.FUSEE, Asked.SIZE): Refusal(
        reason="The rules for thickness and length are for going barrels, not for a fusee, whose "
        "spring has a small arbor and free coils.",
        hint="Copy the old spring or a document, and check its turns against the chain.",
    ),
    (BarrelKind.FUSEE, Asked.HOURS_FROM_BARREL): _FUSEE_TURNS_OR_CONE,
    (BarrelKind.FUSEE, Asked.RESERVE): _FUSEE_TURNS_OR_CONE,
    (BarrelKind.FUSEE, Asked.CROWN_TURNS): _FUSEE_TURNS,
    (BarrelKind.MOTOR, Asked.HOURS_FROM_BARREL): Refusal(
        # Chicago School of Watchmaking, Home Study Course, lesson 6, sections 165 to 167.
        reason="The teeth of a motor barrel belong to the winding; its arbor drives the train.",
        hint="Count the teeth of the wheel on the barrel arbor instead.",
    ),
    (BarrelKind.TWIN, Asked.HOURS_FROM_BARREL): _TWO_BARRELS,
    (BarrelKind.TWIN, Asked.RESERVE): Refusal(
        reason=_TWO_BARRELS.reason,
        hint="Wind it fully and time the run; the turns of one barrel are not those of both.",
    ),
    (Winding.AUTOMATIC, Asked.CROWN_TURNS): Refusal(
        reason="A self-winding watch has no last crown turn: the bridle slips when it is wound.",
        hint="Wind it by hand until the bridle is felt to slip, and time the run instead.",
    ),
}


def refuse_uncovered(arrangement: Arrangement, asked: Asked) -> None:
    """Refuse what no rule covers for this arrangement.

    Raises:
        SizingError: the reason, with what to do instead.
    """
    for feature in (arrangement.kind, arrangement.winding):
        refusal = REFUSALS.get((feature, asked))
        if refusal is not None:
            raise SizingError(refusal.reason, inputs=(feature.value,), hint=refusal.hint)


def check_arrangement(arrangement: Arrangement) -> None:
    """Refuse parts that do not go together.

    Raises:
        SizingError: a plain end in a self-winding watch, a slipping one in a hand-wound
            watch, stopwork on a spring that slips, or a stopwork of no turns.
    """
    end, stopwork = arrangement.end, arrangement.stopwork
    automatic = arrangement.winding is Winding.AUTOMATIC
    if end is not None and end.slips != automatic:
        raise SizingError(
            f"A spring with {end.title} does not belong in a watch wound "
            f"{'by its own motion' if automatic else 'by hand'}.",
            inputs=("end", "winding"),
            hint="A smooth wall needs a slipping bridle, a wall with a hook or notch a fixed end.",
        )
    if stopwork is not None and automatic:
        raise SizingError(
            "A self-winding spring slips at full wind and has no stopwork.",
            inputs=("stopwork", "winding"),
            hint="Check how the watch is wound.",
        )
    if stopwork is not None and not _possible(stopwork):
        raise SizingError(
            f"A stopwork of {stopwork.turns:g} turns set up by {stopwork.set_up_turns:g} "
            "is not possible.",
            inputs=("stopwork",),
            hint="Give the turns it allows, above zero, and the turns of set-up, zero or more.",
        )


def _possible(stopwork: Stopwork) -> bool:
    turns, set_up = stopwork.turns, stopwork.set_up_turns
    return math.isfinite(turns) and turns > 0 and math.isfinite(set_up) and set_up >= 0
