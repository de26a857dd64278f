"""Which turns of the spring a stopwork selects, and the torque over them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gaugelink.errors import SizingError
from gaugelink.mechanics.arrangement import Arrangement, Stopwork, Winding
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.torque import RunDown, run_down
from gaugelink.model import Advice

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkingTurns:
    """The turns that do work, counted from full wind: ``first`` at the top, ``last`` at the end."""

    first: Number
    last: Number

    @property
    def turns(self) -> Number:
        """How many they are."""
        return self.last - self.first


def working_span(run: RunDown, stopwork: Stopwork | None) -> WorkingTurns:
    """Return the turns that do work, with or without stopwork, of one spring or many.

    A stopwork counts from the run-down spring: the set-up first, then the turns that it
    allows. Set-up below the turns that stay loose without torque gains nothing. A
    stopwork that asks for more turns than the spring has begins at full wind.

    Args:
        run: the whole run of the spring, or springs.
        stopwork: what it allows, or None.
    """
    import numpy as np

    if stopwork is None:
        return WorkingTurns(first=0.0, last=run.turns_usable)
    first = np.maximum(run.turns_rings - stopwork.set_up_turns - stopwork.turns, 0.0)
    last = np.maximum(first, np.minimum(first + stopwork.turns, run.turns_usable))
    return WorkingTurns(first=first, last=last)


def working_turns(spring: SpringInBarrel, stopwork: Stopwork | None) -> WorkingTurns:
    """Return the turns of a single spring that do work; see ``working_span``.

    Raises:
        SizingError: set-up and turns together are more than the barrel has.
    """
    run = run_down(spring)
    if stopwork is not None and run.turns_rings < stopwork.set_up_turns + stopwork.turns:
        raise SizingError(
            f"A stopwork of {stopwork.turns:g} turns with {stopwork.set_up_turns:g} of set-up "
            f"asks for more than the {run.turns_rings:.1f} turns of this spring.",
            inputs=("stopwork", "thickness", "length"),
            hint="Count the turns of the stopwork again, or take a thinner spring.",
        )
    return working_span(run, stopwork)


def stopwork_warnings(spring: SpringInBarrel, stopwork: Stopwork | None) -> tuple[Advice, ...]:
    """Say where a single spring has fewer turns than its stopwork asks for."""
    try:
        working_turns(spring, stopwork)
    except SizingError as error:
        return (Advice(code="stopwork-short", text=f"{error} {error.hint}"),)
    return ()


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
