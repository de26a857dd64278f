"""What one spring gives in its barrel: torque, turns, energy and hours, and torque at a fusee.

The part of the measurement model that asks the torque curve: from full wind, from the top of a
stopwork, or from where a bridle slips. Turns are counted as those of a true spiral and what hub
and hook add to them, spread over all.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

from gaugelink.mechanics.fusee import Fusee, Torque, fusee_run, hollow_of
from gaugelink.mechanics.stopwork import (
    DAY_H,
    HALF_TURN,
    torque_of_span,
    turns_past_the_set,
    turns_to_stop,
    turns_worked,
)
from gaugelink.mechanics.stress import stress_range_mpa
from gaugelink.mechanics.torque import (
    RunDown,
    run_down,
    torque_after,
    torque_at_bend,
)
from gaugelink.mechanics.train import crown_turns

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gaugelink.mechanics.spring import SpringInBarrel
    from gaugelink.sizing.inputs import SizingInputs
    from gaugelink.sizing.measurement_model import BarrelSprings


class CoilsOff(NamedTuple):
    """What hub and hook add to the usable turns and the loose coils of a true spiral."""

    turns: Any
    loose: Any


def torque_figures(
    name: str, springs: BarrelSprings, inputs: SizingInputs, off: CoilsOff
) -> dict[str, Any]:
    """Compute what a spring gives from full wind, or from where stopwork or slip begin, by label.

    Turns as numbers, hours in h, torque in N mm, energy in mJ, stress in MPa. Crown turns
    wind it from rest.

    Args:
        name: of the spring.
        springs: one spring of each name, or many.
        inputs: their shape says which figures there are.
        off: what hub and hook make of its coils.
    """
    import numpy as np

    spring, stopwork = springs[name], inputs.arrangement.stopwork
    run = run_down(spring)
    usable = run.turns_usable + off.turns
    span, tight = turns_worked(spring, run, usable, stopwork, springs.slip_loss)
    slips = springs.slip_loss is not None
    whole = stopwork is None and not slips
    at = _whole_torque(name, springs) if whole else _torque(spring, run, usable)
    top = at(span.first)
    figures: dict[str, Any] = {
        "stress_full": spring.full_wind_stress_mpa,
        "turns_usable": span.turns if slips else usable,
        "turns_working": span.turns if stopwork else None,
        "loose_coils": np.maximum(run.loose_coils + off.loose, 0.0),
        "stress_range": stress_range_mpa(spring, run.bands),
    }
    if springs.has(name, "height"):
        figures["torque_full"] = top
        later = HALF_TURN if whole else turns_past_the_set(span)
        figures["torque_half_turn"] = at(later)
        # Above the slip the torque is nearly straight.
        mean = (spring.full_wind_torque_nmm + top) / 2
        figures["energy"] = run.energy_mj - 2 * math.pi * tight * mean
    if inputs.winding_train is not None:
        figures["crown_turns"] = crown_turns(span.turns, inputs.winding_train)
    if inputs.hours_per_turn is not None:
        to_stop = turns_to_stop(spring, run, span, off.turns, springs.torque_to_run(name))
        figures["hours_usable"] = span.turns * inputs.hours_per_turn
        figures["hours_to_stop"] = to_stop * inputs.hours_per_turn
        day = DAY_H / inputs.hours_per_turn
        figures["torque_kept"] = (at(day) if whole else torque_of_span(at, span, day)) / top
    return {f"{name}.{which}": value for which, value in figures.items() if value is not None}


def _torque(spring: SpringInBarrel, run: RunDown, usable: Any) -> Torque:
    """Torque by the turns as they are counted, those that hub and hook add spread over all."""
    return lambda turns: torque_after(spring, turns * (run.turns_usable / usable))


def _whole_torque(name: str, springs: BarrelSprings) -> Torque:
    """Torque of a spring that works from full wind on; what is left there was asked before."""
    return lambda turns: torque_at_bend(springs[name], springs.bend(name, turns))


def fusee_of(known: Mapping[str, Any]) -> Fusee:
    """Return the fusee that the values by label say."""
    hollow = known.get("fusee_hollow")
    if hollow is None:
        ends = known["fusee_small"], known["fusee_large"]
        hollow = hollow_of(ends[0], known["fusee_middle"], ends[1])
    return Fusee(
        small_mm=known["fusee_small"],
        large_mm=known["fusee_large"],
        turns=known["fusee_turns"],
        barrel_outside_mm=known["barrel_outside"],
        hollow=hollow,
    )


def fusee_figures(
    name: str, springs: BarrelSprings, inputs: SizingInputs, fusee: Fusee, coils_off: Any
) -> dict[str, Any]:
    """Compute what a spring gives at the fusee, by label: N mm, turns, h."""
    spring = springs[name]
    run = run_down(spring)
    usable = run.turns_usable + coils_off
    given = fusee_run(fusee, _torque(spring, run, usable), usable, springs.set_up)
    figures = {
        "fusee_evenness": given.evenness,
        "fusee_spare_turns": given.spare_turns,
        "fusee_best_set_up": given.best_set_up,
        "fusee_best_evenness": given.best_evenness,
    }
    if springs.has(name, "height"):
        figures |= {"fusee_top": given.top_nmm, "fusee_bottom": given.bottom_nmm}
    if inputs.fusee is not None and inputs.fusee.hours_per_turn is not None:
        figures["hours_to_stop"] = given.fusee_turns * inputs.fusee.hours_per_turn
    return {f"{name}.{which}": value for which, value in figures.items()}
