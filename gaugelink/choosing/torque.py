"""Torque of springs over that of another, and the amplitude that comes of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from gaugelink.choosing.acting import Watch, bare_at_stress
from gaugelink.choosing.inputs import Reference
from gaugelink.choosing.springs import Springs
from gaugelink.choosing.state import BarrelState
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.materials import OPEN, WHITE, Material
from gaugelink.mechanics.motion import MeasuredAmplitude, Wind
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.stopwork import DAY_H, of_equal_shape, torque_ratio
from gaugelink.sizing import rules

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gaugelink.mechanics.band import Number

USUAL_HOURS_PER_TURN = 8.0  # where nobody counted the train; common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Other:
    """The spring to compare with, in mm; a height of None is taken as equal."""

    thickness_mm: Number
    height_mm: Number | None
    length_mm: Number


def reference_in(state: BarrelState, kind: Reference) -> Other:
    """Return the reference of a state; that of a rule is as high as the barrel allows."""
    height = state.limit_mm if kind is Reference.RULE else state.height_mm
    return Other(thickness_mm=state.thickness_mm, height_mm=height, length_mm=state.length_mm)


def found_in(values: Mapping[str, Any]) -> Other | None:
    """Return the found spring out of input values by label; None if it was not measured."""
    thickness = values.get("found.thickness")
    if thickness is None:
        return None
    half_area = rules.half_area_length(values["bore"], values["arbor"], thickness)
    return Other(
        thickness_mm=thickness,
        height_mm=values.get("found.height"),
        length_mm=values.get("found.length", half_area),
    )


def torque_band(
    state: BarrelState, springs: Springs, other: Other, watch: Watch, *, turns: float = 0.0
) -> Band:
    """Compute the band of torque over that of another spring, so many turns after winding.

    As ``mechanics.torque_ratio``. Where the material of either is open both are taken to be
    of one. Infinite where the other has run down by then.
    """
    import numpy as np

    own = bare_at_stress(state, springs, springs.of_material(_middle_stress_mpa))
    compared = _definite(watch.material) * springs.of_material(_definite) > 0
    material = watch.material
    stress = material.full_wind_stress_mpa.middle
    beside = SpringInBarrel(
        bore_mm=state.bore_mm,
        arbor_mm=state.arbor_mm,
        thickness_mm=other.thickness_mm,
        length_mm=other.length_mm,
        height_mm=own.height_mm if other.height_mm is None else other.height_mm,
        modulus_mpa=np.where(compared, material.modulus_mpa, own.modulus_mpa),
        full_wind_stress_mpa=np.where(compared, stress, own.full_wind_stress_mpa),
    )
    if not turns and watch.stopwork is None:
        return _at_full_wind(own, beside)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = torque_ratio(own, beside, turns=turns, stopwork=watch.stopwork)
    # Nothing over nothing is no less than anything over nothing.
    return Band(low=_no_gap(ratio.low), high=_no_gap(ratio.high))


def turns_since_wind(measured: MeasuredAmplitude, watch: Watch) -> float:
    """Return the barrel turns between winding and the measurement of an amplitude.

    Where the turns of the barrel tell no hours the torque on winding stands for that later.
    """
    if measured.wind is Wind.FULL or not watch.turns_tell_hours:
        return 0.0
    return DAY_H / (watch.hours_per_turn or USUAL_HOURS_PER_TURN)


def _at_full_wind(own: SpringInBarrel, beside: SpringInBarrel) -> Band:
    """The same band without the way down from full wind, which is nothing here."""
    import numpy as np

    known = beside.full_wind_torque_nmm
    at_limit = own.full_wind_torque_nmm / known
    equal = of_equal_shape(own, beside).full_wind_torque_nmm / known
    return Band(low=np.minimum(at_limit, equal), high=np.maximum(at_limit, equal))


def _no_gap(ratio: Number) -> Number:
    import numpy as np

    return np.where(np.isnan(ratio), np.inf, ratio)


def _middle_stress_mpa(material: Material) -> float:
    return material.full_wind_stress_mpa.middle


def _definite(material: Material) -> float:
    return float(material.name not in (OPEN, WHITE))
