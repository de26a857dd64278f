"""The four measures by which springs are compared with what the barrel should have.

Of a spring beside its reference (r)::

    height   h - limit                        mm
    torque   ln(h / h_r) + 2.5 ln(e / e_r)
    fill     ln(4 L e / (pi (D^2 - d^2)))
    run      ln(turns) - ln(turns needed)

Torque at full wind goes with h e^2 where each spring took its set on its own arbor and with
h e^3 where both have one free shape (see ``mechanics.stopwork``): the exponent is half way
between. A rule has no height, and lower strip is not made up for by thicker: there torque is
that of the thickness alone. Turns are those that torque lasts for (see ``acting``), of the
weakest material that a spring may be of; that a weak one stops the watch before counts in its
torque, and is not counted twice.
``torque_band`` has both limits, over the reference or over the found spring.

Every function takes one state or a column of drawn ones; springs lie along the last axis.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from gaugelink.choosing.acting import (
    WatchSetting,
    bare_barrel,
    in_barrel,
    reference_in_barrel,
    working_turns,
)
from gaugelink.choosing.springs import Springs, of_class
from gaugelink.choosing.state import BarrelState, ReferenceKind, found_mpa, healthy_mpa
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.materials import Material
from gaugelink.mechanics.motion import MeasuredAmplitude, Wind
from gaugelink.mechanics.spring import SpringInBarrel, as_spiral
from gaugelink.mechanics.stopwork import DAY_H, of_equal_shape, torque_ratio
from gaugelink.sizing import rules
from gaugelink.sizing.order import THICKNESS_EXPONENT

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gaugelink.mechanics.band import Number
    from gaugelink.uncertainty.estimate import Array

# Of the turns of the reference, where nobody knows how long a turn lasts: as 36 h are of 40 h.
NEEDED_OF_REFERENCE = 0.9
_LEAST_TURNS = 0.05  # instead of none, which has no logarithm


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """The four measures, or their uncertainties; ``height`` is zero where no limit is known."""

    height: Number
    torque: Number
    fill: Number
    run: Number


def measures(state: BarrelState, springs: Springs, watch: WatchSetting) -> Measures:
    """Compute the measures of springs.

    Args:
        state: one barrel, or draws of it as a column.
        springs: as they would be fitted, cut to their length.
        watch: the watch around the barrel.
    """
    return Measures(
        height=height_over(state, springs),
        torque=log_torque(state, springs),
        fill=log_fill(state, springs),
        run=log_turns(state, springs, watch) - log_needed(state, watch),
    )


def height_over(state: BarrelState, springs: Springs) -> Array:
    """Compute by how much springs are higher than they may be, in mm."""
    import numpy as np

    if state.limit_mm is None:
        return np.zeros_like(springs.height_mm)
    over: Array = springs.height_mm - state.limit_mm
    return over


def log_torque(state: BarrelState, springs: Springs) -> Array:
    """Compute the logarithm of full-wind torque over that of the reference."""
    import numpy as np

    thickness: Array = THICKNESS_EXPONENT * np.log(springs.thickness_mm / state.thickness_mm)
    if state.height_mm is None:
        return thickness
    return thickness + np.log(springs.height_mm / state.height_mm)


def log_fill(state: BarrelState, springs: Springs) -> Array:
    """Compute the logarithm of the part of the ring that springs cover."""
    import numpy as np

    return np.log(fill_of(state, springs))


def fill_of(state: BarrelState, springs: Springs) -> Array:
    """Compute the part of the ring that springs cover, 4 L e / (pi (D^2 - d^2))."""
    fill: Array = springs.length_mm * springs.thickness_mm / ring_mm2(state)
    return fill


def ring_mm2(state: BarrelState) -> Number:
    """Compute the area between arbor and wall, in mm^2."""
    return math.pi * (state.bore_mm**2 - state.arbor_mm**2) / 4


def log_turns(state: BarrelState, springs: Springs, watch: WatchSetting) -> Array:
    """Compute the logarithm of the turns that drive the watch.

    A spring of which nobody states what it is of has those of the weakest that it may be: what
    is not known costs no less than the worst of what may be known.
    """
    import numpy as np

    turns = working_turns(in_barrel(state, of_class(springs, 0), watch), watch.stopwork)
    return np.log(np.maximum(turns, _LEAST_TURNS))


def log_needed(state: BarrelState, watch: WatchSetting) -> Array:
    """Compute the logarithm of the turns that are needed.

    Those of ``RESERVE_H``, but no more than the reference gives; where the hours per turn
    are not known, those of the reference less a tenth.
    """
    import numpy as np

    given = working_turns(reference_in_barrel(state, watch), watch.stopwork)
    asked = watch.reserve_turns
    needed = NEEDED_OF_REFERENCE * given if asked is None else np.minimum(given, asked)
    return np.log(np.maximum(needed, _LEAST_TURNS))


USUAL_HOURS_PER_TURN = 8.0  # where nobody counted the train; common practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Other:
    """The spring to compare with, in mm; a height of None is taken as equal.

    Without a ``stress_mpa`` both are taken to be of one material, as strong as one another.
    """

    thickness_mm: Number
    height_mm: Number | None
    length_mm: Number
    stress_mpa: Number | None = None
    modulus_mpa: float = 0.0
    may_be_tired: bool = False


def reference_in(state: BarrelState, kind: ReferenceKind, watch: WatchSetting) -> Other:
    """Return the reference of a state.

    That of a rule is as high as the barrel allows. Where its material is open the spring that
    is compared with it is taken to be of the same.
    """
    definite = watch.reference_material.is_definite and kind is not ReferenceKind.RULE
    return Other(
        thickness_mm=state.thickness_mm,
        height_mm=state.limit_mm if kind is ReferenceKind.RULE else state.height_mm,
        length_mm=state.length_mm,
        stress_mpa=state.reference_mpa if definite else None,
        modulus_mpa=watch.reference_material.modulus_mpa,
    )


def found_in(values: Mapping[str, Any], material: Material, *, healthy: bool) -> Other | None:
    """Return the found spring out of input values by label; None if it was not measured.

    It is as strong as its signs say, healthy or tired; where somebody says that it is
    ``healthy`` it kept its strength.
    """
    thickness = values.get("found.thickness")
    if thickness is None:
        return None
    half_area = rules.half_area_length(values["bore"], values["arbor"], thickness)
    return Other(
        thickness_mm=thickness,
        height_mm=values.get("found.height"),
        length_mm=values.get("found.length", half_area),
        stress_mpa=healthy_mpa(values) if healthy else found_mpa(values),
        modulus_mpa=material.modulus_mpa,
        may_be_tired=not healthy,
    )


def torque_band(
    state: BarrelState, springs: Springs, other: Other, watch: WatchSetting, *, turns: float = 0.0
) -> Band:
    """Compute the band of torque over that of another spring, so many turns after winding.

    As ``mechanics.torque_ratio``. Infinite where the other has run down by then.
    """
    import numpy as np

    own = bare_barrel(state, springs, watch)
    stress, modulus = other.stress_mpa, other.modulus_mpa
    beside = SpringInBarrel(
        bore_mm=state.bore_mm,
        arbor_mm=state.arbor_mm,
        thickness_mm=other.thickness_mm,
        length_mm=other.length_mm,
        height_mm=own.height_mm if other.height_mm is None else other.height_mm,
        modulus_mpa=own.modulus_mpa if stress is None else modulus,
        full_wind_stress_mpa=own.full_wind_stress_mpa if stress is None else stress,
    )
    own, beside = as_spiral(own), as_spiral(beside)
    if not turns and watch.stopwork is None:
        return _at_full_wind(own, beside, may_share_shape=not other.may_be_tired)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = torque_ratio(
            own,
            beside,
            turns=turns,
            stopwork=watch.stopwork,
            may_share_shape=not other.may_be_tired,
        )
    # Nothing over nothing is no less than anything over nothing.
    return Band(low=_no_gap(ratio.low), high=_no_gap(ratio.high))


def turns_since_wind(measured: MeasuredAmplitude, watch: WatchSetting) -> float:
    """Return the barrel turns between winding and the measurement of an amplitude.

    Where the turns of the barrel tell no hours the torque on winding is used for later.
    """
    if measured.wind is Wind.FULL or not watch.turns_tell_hours:
        return 0.0
    return DAY_H / (watch.hours_per_turn or USUAL_HOURS_PER_TURN)


def _at_full_wind(own: SpringInBarrel, beside: SpringInBarrel, *, may_share_shape: bool) -> Band:
    """The same band without the way down from full wind, which is nothing here."""
    import numpy as np

    known = beside.full_wind_torque_nmm
    at_limit = own.full_wind_torque_nmm / known
    if not may_share_shape:
        return Band(low=at_limit, high=at_limit)
    equal = of_equal_shape(own, beside).full_wind_torque_nmm / known
    return Band(low=np.minimum(at_limit, equal), high=np.maximum(at_limit, equal))


def _no_gap(ratio: Number) -> Number:
    import numpy as np

    return np.where(np.isnan(ratio), np.inf, ratio)
