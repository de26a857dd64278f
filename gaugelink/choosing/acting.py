"""Springs as they act in this watch: with their outer end, and as far as a stopwork lets them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gaugelink.choosing.springs import Springs
from gaugelink.choosing.state import BarrelState
from gaugelink.errors import SizingError
from gaugelink.mechanics.arrangement import Arrangement, Asked, Stopwork, Winding, refuse_uncovered
from gaugelink.mechanics.materials import EndType, Material, with_end
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.stopwork import selected_turns
from gaugelink.mechanics.torque import usable_turns
from gaugelink.sizing.inputs import SizingInputs

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number

RESERVE_H = 36.0  # 24 h and half a day over; one-day watches run 36 to 40 h


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchSetting:
    """What the barrel stands in.

    Args:
        hours_per_turn: hours that one barrel turn lasts; None where it is not known, or says
            nothing of how long the watch runs.
        turns_tell_hours: whether the turns of the barrel may say that: not those of a fusee's
            or of one of two.
        winding: how the watch is wound.
        stopwork: what it allows, if there is one.
        end: outer end that the barrel is made for; None where it is not known.
        material: of the reference, and of a spring whose own is not stated.
        lengths_with_end: whether the lengths of given springs count what the end takes.
    """

    hours_per_turn: float | None
    turns_tell_hours: bool
    winding: Winding
    stopwork: Stopwork | None
    end: EndType | None
    material: Material
    lengths_with_end: bool

    @property
    def reserve_turns(self) -> float | None:
        """Barrel turns in ``RESERVE_H``."""
        return None if self.hours_per_turn is None else RESERVE_H / self.hours_per_turn


def watch_of(barrel: SizingInputs) -> WatchSetting:
    """Return the watch around a barrel."""
    tell_hours = _turns_tell_hours(barrel.arrangement)
    return WatchSetting(
        hours_per_turn=barrel.hours_per_turn if tell_hours else None,
        turns_tell_hours=tell_hours,
        winding=barrel.arrangement.winding,
        stopwork=barrel.arrangement.stopwork,
        end=barrel.arrangement.end,
        material=barrel.material,
        lengths_with_end=barrel.length_includes_end,
    )


def _turns_tell_hours(arrangement: Arrangement) -> bool:
    try:
        refuse_uncovered(arrangement, Asked.RESERVE)
    except SizingError:
        return False
    return True


def in_barrel(state: BarrelState, springs: Springs, watch: WatchSetting) -> SpringInBarrel:
    """Return springs in the barrel, bore and length less what their outer ends take.

    An end that is not stated is taken to be the one that the barrel is made for. A length
    of the stock counts the end.
    """
    import numpy as np

    bare = bare_barrel(state, springs)
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
    return replace(bare, bore_mm=bore, length_mm=length)


def reference_in_barrel(state: BarrelState, watch: WatchSetting) -> SpringInBarrel:
    """Return the reference in the barrel, with the outer end that the barrel is made for."""
    material = watch.material
    stress = material.full_wind_stress_mpa
    reference = SpringInBarrel(
        bore_mm=state.bore_mm,
        arbor_mm=state.arbor_mm,
        thickness_mm=state.thickness_mm,
        length_mm=state.length_mm,
        height_mm=1.0 if state.height_mm is None else state.height_mm,
        modulus_mpa=material.modulus_mpa,
        full_wind_stress_mpa=stress.band.at(state.shape),
    )
    if watch.end is None:
        return reference
    return with_end(reference, watch.end, length_includes_end=watch.lengths_with_end)


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


def bare_barrel(state: BarrelState, springs: Springs) -> SpringInBarrel:
    """Return springs in the barrel as if their outer ends took nothing."""
    low = springs.of_material(lambda material: material.full_wind_stress_mpa.low)
    high = springs.of_material(lambda material: material.full_wind_stress_mpa.high)
    return bare_at_stress(state, springs, low + state.shape * (high - low))


def bare_at_stress(
    state: BarrelState, springs: Springs, full_wind_stress_mpa: Number
) -> SpringInBarrel:
    """Return springs in the bare barrel with a given stress at full wind."""
    return SpringInBarrel(
        bore_mm=state.bore_mm,
        arbor_mm=state.arbor_mm,
        thickness_mm=springs.thickness_mm,
        length_mm=springs.length_mm,
        height_mm=springs.height_mm,
        modulus_mpa=springs.of_material(lambda material: material.modulus_mpa),
        full_wind_stress_mpa=full_wind_stress_mpa,
    )
