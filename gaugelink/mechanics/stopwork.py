"""Which turns of the spring a stopwork selects, and the torque over them."""

from __future__ import annotations

from dataclasses import dataclass

from gaugelink.errors import SizingError
from gaugelink.mechanics.arrangement import Arrangement, Stopwork, Winding
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.torque import usable_turns
from gaugelink.mechanics.turns import ring_turns
from gaugelink.model import Advice


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkingTurns:
    """The turns that do work, counted from full wind: ``first`` at the top, ``last`` at the end."""

    first: float
    last: float

    @property
    def turns(self) -> float:
        """How many they are."""
        return self.last - self.first


def working_turns(spring: SpringInBarrel, stopwork: Stopwork | None) -> WorkingTurns:
    """Return the turns of a single spring that do work, with or without stopwork.

    A stopwork counts from the run-down spring: the set-up first, then the turns that it
    allows. Set-up below the turns that stay loose without torque gains nothing.

    Raises:
        SizingError: set-up and turns together are more than the barrel has.
    """
    usable, whole = float(usable_turns(spring)), float(ring_turns(spring))
    if stopwork is None:
        return WorkingTurns(first=0.0, last=usable)
    top = whole - stopwork.set_up_turns - stopwork.turns
    if top < 0:
        raise SizingError(
            f"A stopwork of {stopwork.turns:g} turns with {stopwork.set_up_turns:g} of set-up "
            f"asks for more than the {whole:.1f} turns of this spring.",
            inputs=("stopwork", "thickness", "length"),
            hint="Count the turns of the stopwork again, or take a thinner spring.",
        )
    return WorkingTurns(first=top, last=max(top, min(top + stopwork.turns, usable)))


def winding_advice(arrangement: Arrangement) -> tuple[Advice, ...]:
    """List what the torque curve does not know of this arrangement."""
    if arrangement.winding is Winding.AUTOMATIC:
        return (
            Advice(
                code="slip-sets-full-wind",
                text="The bridle slips a little before the coils are tight: turns, torque and "
                "hours at full wind are upper limits.",
            ),
        )
    return ()
