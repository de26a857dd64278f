"""How sure the first place is, and what to measure better, in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from gaugelink.choosing.case import Case
from gaugelink.choosing.drawn import Drawn
from gaugelink.choosing.information import (
    Informed,
    shares_of_first,
    stability,
    value_of_all,
    value_of_knowing,
)
from gaugelink.choosing.results import BetterMeasured, Decision, Rival
from gaugelink.choosing.springs import Positions
from gaugelink.choosing.state import SHAPE
from gaugelink.choosing.wording import percent

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array

LEAST_GAIN = 0.05  # points: half of what a tie is
LEAST_SHARE = 0.01
MOST_RIVALS = 5
OWN = {
    "thickness": "thickness of the springs themselves",
    "height": "height of the springs themselves",
}


def decide(case: Case, at: Positions, drawn: Drawn, seed: int) -> Decision:
    """Tell how stable the first of the contenders is, and what would make it more so."""
    known = stability(drawn.losses)
    return Decision(
        stability=known,
        stability_with_strip=stability(drawn.with_strip),
        gain_of_all=value_of_all(drawn.losses),
        rivals=tuple(_rivals(case, at, drawn.losses)),
        better_measured=_better_measured(drawn, known),
        contenders=len(at),
        draws=len(drawn.losses),
        seed=seed,
    )


def _rivals(case: Case, at: Positions, losses: Array) -> Iterator[Rival]:
    shares = shares_of_first(losses)
    for j in sorted(range(1, len(at)), key=lambda j: -shares[j])[:MOST_RIVALS]:
        if shares[j] >= LEAST_SHARE:
            yield Rival(item=case.stock[int(at[j])].item, share=float(shares[j]))


def _better_measured(drawn: Drawn, now: float) -> tuple[BetterMeasured, ...]:
    """Of the barrel and the reference, and of the springs; the free shape nobody measures."""
    found = [
        (name, value_of_knowing(drawn.losses, values), now)
        for name, values in drawn.inputs.items()
        if name != SHAPE
    ]
    with_strip = stability(drawn.with_strip)
    found += [
        (OWN[name], value_of_knowing(drawn.with_strip, drawn.own[name]), with_strip) for name in OWN
    ]
    worth = [each for each in found if each[1].is_sure and each[1].gain >= LEAST_GAIN]
    return tuple(_better(*each) for each in sorted(worth, key=lambda each: -each[1].gain))


def _better(name: str, informed: Informed, now: float) -> BetterMeasured:
    spoken = spoken_input(name)
    return BetterMeasured(
        input=name,
        gain=informed.gain,
        right=informed.right,
        text=f"If the {spoken} were known exactly, the choice would be the best in "
        f"{percent(informed.right)} of the cases instead of {percent(now)}, and "
        f"{informed.gain:.1f} points better.",
    )


def spoken_input(name: str) -> str:
    """Return an input as it is spoken of: ``found.thickness`` is the thickness of the found one."""
    spring, _, size = name.partition(".")
    return f"{size} of the {spring} spring" if size else spring
