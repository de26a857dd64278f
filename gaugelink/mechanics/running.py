"""How long a spring drives the watch, and what it gives at the start and a day later."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gaugelink.mechanics.band import Band
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.stopwork import driving_torque
from gaugelink.mechanics.torque import bend_after, torque_after, torque_at_bend, usable_turns

if TYPE_CHECKING:
    from gaugelink.mechanics.arrangement import Stopwork
    from gaugelink.mechanics.band import Number

DAY_H = 24.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """What a spring does in a train.

    ``power_reserve_h`` is from full wind until the torque ends, an upper limit: a watch
    stops before. ``torque_kept`` is torque after ``after_h`` over torque at full wind,
    zero for a spring that has run down by then.
    """

    power_reserve_h: Number
    after_h: float
    full_wind_torque_nmm: Number
    torque_after_nmm: Number
    torque_kept: Number


def running(spring: SpringInBarrel, hours_per_turn: Number, *, after_h: float = DAY_H) -> Running:
    """Compute power reserve in h and torque in N mm, at full wind and some hours later.

    Args:
        spring: one spring or many.
        hours_per_turn: hours that one barrel turn lasts, above 0.
        after_h: the hours later, 0 or more.
    """
    full = spring.full_wind_torque_nmm
    after = torque_after(spring, after_h / hours_per_turn)
    return Running(
        power_reserve_h=usable_turns(spring) * hours_per_turn,
        after_h=after_h,
        full_wind_torque_nmm=full,
        torque_after_nmm=after,
        torque_kept=after / full,
    )


def of_equal_shape(spring: SpringInBarrel, reference: SpringInBarrel) -> SpringInBarrel:
    """Return the spring with the full-wind bend of another: both of the one free shape.

    Its full-wind stress becomes E e c_0 / 2 with the c_0 of ``reference``.
    """
    half = spring.modulus_mpa * spring.thickness_mm / 2
    return replace(spring, full_wind_stress_mpa=half * reference.full_wind_bend_per_mm)


def torque_ratio(
    spring: SpringInBarrel,
    reference: SpringInBarrel,
    *,
    turns: Number = 0.0,
    stopwork: Stopwork | None = None,
) -> Band:
    """Compute the band of torque over that of a reference, so many turns after winding.

    One limit keeps the stress of each spring, so that full-wind torque goes with h e^2:
    both took their set on their own arbor. The other gives the spring the free shape of the
    reference, so that it goes with h e^3. A real pair lies between. With a stopwork each
    spring is counted from the first of its own working turns, of whatever shape it is.

    Args:
        spring: one spring or many.
        reference: the spring to compare with, or one for each.
        turns: turns since the watch was wound, the same for both.
        stopwork: what lets both springs work over some of their turns only, or None.
    """
    if stopwork is None:
        bend = bend_after(spring, turns)
        return torque_ratio_at(spring, reference, bend, torque_after(reference, turns))
    known = driving_torque(reference, stopwork, turns)
    own = driving_torque(spring, stopwork, turns) / known
    equal = driving_torque(of_equal_shape(spring, reference), stopwork, turns) / known
    return _between(own, equal)


def torque_ratio_at(
    spring: SpringInBarrel,
    reference: SpringInBarrel,
    bend_per_mm: Number,
    reference_torque_nmm: Number,
) -> Band:
    """Compute the band of torque over that of a reference when both states are known.

    Args:
        spring: one spring or many.
        reference: the spring to compare with, or one for each.
        bend_per_mm: what the free part of ``spring`` has straightened by, see ``bend_after``.
        reference_torque_nmm: torque of the reference in its own state, N mm.
    """
    own = torque_at_bend(spring, bend_per_mm) / reference_torque_nmm
    equal = torque_at_bend(of_equal_shape(spring, reference), bend_per_mm) / reference_torque_nmm
    return _between(own, equal)


def _between(one: Number, other: Number) -> Band:
    import numpy as np

    return Band(low=np.minimum(one, other), high=np.maximum(one, other))
