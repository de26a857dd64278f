"""Springs as they act in this watch: with their outer end, and as far as a stopwork lets them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from gaugelink.choosing.springs import Springs
from gaugelink.choosing.state import BarrelState
from gaugelink.errors import SizingError
from gaugelink.mechanics.arrangement import Arrangement, Asked, Stopwork, Winding, refuse_uncovered
from gaugelink.mechanics.materials import EndType, Material, with_end
from gaugelink.mechanics.spring import SpringInBarrel, as_spiral
from gaugelink.mechanics.stopwork import HALF_TURN, selected_turns, turns_to_stop, turns_worked
from gaugelink.mechanics.torque import run_down, torque_after, usable_turns
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.order import RESERVE_H

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.uncertainty.estimate import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchSetting:
    """The watch around the barrel.

    Args:
        hours_per_turn: hours that one barrel turn lasts; None where it is not known, or says
            nothing of how long the watch runs.
        turns_tell_hours: whether the turns of the barrel may say that: not those of a fusee's
            or of one of two.
        winding: how the watch is wound.
        stopwork: what it allows, if there is one.
        end: outer end that the barrel is made for; None where it is not known.
        material: of new springs for this barrel.
        reference_material: of the reference.
        lengths_with_end: whether the lengths of given springs count what the end takes.
    """

    hours_per_turn: float | None
    turns_tell_hours: bool
    winding: Winding
    stopwork: Stopwork | None
    end: EndType | None
    material: Material
    reference_material: Material
    lengths_with_end: bool

    @property
    def reserve_turns(self) -> float | None:
        """Barrel turns in ``RESERVE_H``."""
        return None if self.hours_per_turn is None else RESERVE_H / self.hours_per_turn


def watch_of(barrel: SizingInputs, *, found_is_reference: bool = False) -> WatchSetting:
    """Return the watch around a barrel."""
    tell_hours = _turns_tell_hours(barrel.arrangement)
    return WatchSetting(
        hours_per_turn=barrel.hours_per_turn if tell_hours else None,
        turns_tell_hours=tell_hours,
        winding=barrel.arrangement.winding,
        stopwork=barrel.arrangement.stopwork,
        end=barrel.arrangement.end,
        material=barrel.material,
        reference_material=barrel.material_of_found if found_is_reference else barrel.material,
        lengths_with_end=barrel.length_includes_end,
    )


def _turns_tell_hours(arrangement: Arrangement) -> bool:
    try:
        refuse_uncovered(arrangement, Asked.RESERVE)
    except SizingError:
        return False
    return True


def in_barrel(state: BarrelState, springs: Springs, watch: WatchSetting) -> SpringInBarrel:
    """Return springs in the barrel as spirals, bore and length less what their outer ends take.

    An end that is not stated is taken to be the one that the barrel is made for. A length
    of the stock counts the end.
    """
    import numpy as np

    bare = bare_barrel(state, springs, watch)
    shape = np.broadcast_shapes(np.shape(state.bore_mm), np.shape(springs.length_mm))
    bore = np.array(np.broadcast_to(bare.bore_mm, shape))
    length = np.array(np.broadcast_to(bare.length_mm, shape))
    for position, stated in enumerate(springs.ends):
        end, such = stated or watch.end, springs.end == position
        if end is None or not such.any():
            continue
        some = replace(
            bare,
            bore_mm=bore[..., such],
            length_mm=length[..., such],
            thickness_mm=springs.thickness_mm[..., such],
        )
        acting = with_end(some, end, length_includes_end=True)
        bore[..., such], length[..., such] = acting.bore_mm, acting.length_mm
    return as_spiral(replace(bare, bore_mm=bore, length_mm=length))


def reference_in_barrel(state: BarrelState, watch: WatchSetting) -> SpringInBarrel:
    """Return the reference in the barrel, with the outer end that the barrel is made for."""
    reference = SpringInBarrel(
        bore_mm=state.bore_mm,
        arbor_mm=state.arbor_mm,
        thickness_mm=state.thickness_mm,
        length_mm=state.length_mm,
        height_mm=1.0 if state.height_mm is None else state.height_mm,
        modulus_mpa=watch.reference_material.modulus_mpa,
        full_wind_stress_mpa=state.reference_mpa,
    )
    if watch.end is not None:
        reference = with_end(reference, watch.end, length_includes_end=watch.lengths_with_end)
    return as_spiral(reference)


def working_turns(spring: SpringInBarrel, stopwork: Stopwork | None) -> Number:
    """Compute the turns that drive the watch, 0 where the spring does not fit its ring.

    Those that torque lasts for; of these, with a stopwork, the ones that it selects, as in
    ``mechanics.stopwork``.
    """
    import numpy as np

    return selected_turns(np.nan_to_num(usable_turns(spring)), stopwork).turns


def spare_turns(spring: SpringInBarrel, stopwork: Stopwork) -> Number:
    """Compute the usable turns beyond those that a stopwork asks for; may be negative."""
    import numpy as np

    spare: Number = np.nan_to_num(usable_turns(spring)) - stopwork.set_up_turns - stopwork.turns
    return spare


class DrivingTurns(NamedTuple):
    """Turns from winding until no torque is left, and until the watch stops."""

    working: Array
    to_stop: Array


def driving_turns(
    state: BarrelState, springs: Springs, watch: WatchSetting, more: Array
) -> DrivingTurns:
    """Compute how long springs drive the watch, in turns, as in ``sizing.measurement_model``.

    Args:
        state: one barrel, or draws of it as a column.
        springs: as they would be fitted.
        watch: the watch around the barrel.
        more: usable turns that rings count more than spirals, see ``rings_more``.
    """
    import numpy as np

    spring, reference = in_barrel(state, springs, watch), reference_in_barrel(state, watch)
    if state.height_mm is None:
        reference = replace(reference, height_mm=spring.height_mm)
    needs = state.stops_at * torque_after(reference, HALF_TURN)
    coils_off, run = state.coils_off * more, run_down(spring)
    usable = np.nan_to_num(run.turns_usable) + coils_off
    slip_loss = state.slip_loss if watch.winding is Winding.AUTOMATIC else None
    span, _ = turns_worked(spring, run, usable, watch.stopwork, slip_loss)
    working: Array = np.maximum(np.nan_to_num(span.turns), 0.0)
    return DrivingTurns(
        working=working,
        to_stop=np.nan_to_num(turns_to_stop(spring, run, span, coils_off, needs)),
    )


def rings_more(state: BarrelState, springs: Springs, watch: WatchSetting) -> Array:
    """Compute by how many usable turns rings count more than true spirals."""
    import numpy as np

    spiral = in_barrel(state, springs, watch)
    e = spiral.thickness_mm
    rings = replace(spiral, bore_mm=spiral.bore_mm + e, arbor_mm=spiral.arbor_mm - e)
    more: Array = np.nan_to_num(usable_turns(rings) - usable_turns(spiral))
    return more


def bare_barrel(state: BarrelState, springs: Springs, watch: WatchSetting) -> SpringInBarrel:
    """Return springs in the barrel as if their outer ends took nothing, coils as rings."""
    return SpringInBarrel(
        bore_mm=state.bore_mm,
        arbor_mm=state.arbor_mm,
        thickness_mm=springs.thickness_mm,
        length_mm=springs.length_mm,
        height_mm=springs.height_mm,
        modulus_mpa=springs.of_material(lambda material: material.modulus_mpa),
        full_wind_stress_mpa=_stress_mpa(state, springs, watch),
    )


def _stress_mpa(state: BarrelState, springs: Springs, watch: WatchSetting) -> Number:
    """All springs are healthy; those of the barrel's own material share its strength."""
    import numpy as np

    median = springs.of_material(lambda material: material.healthy_mpa.median)
    spread = springs.of_material(lambda material: material.healthy_mpa.spread)
    most = springs.of_material(lambda material: material.healthy_mpa.most)
    other = np.minimum(median * np.exp(spread * state.other), most)
    if not watch.material.is_definite:
        return other
    same = springs.of_material(lambda material: float(material.name == watch.material.name)) > 0
    return np.where(same, state.stress_mpa, other)
