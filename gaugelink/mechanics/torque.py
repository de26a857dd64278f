"""The torque curve of a spring, friction left out: turns that can be used, torque, energy.

Every function takes one spring or arrays of them, and returns nan where the strip does
not fit its ring. Torque is what the spring gives; coil friction and the hook take 5 to
15 % of it, from memory, and the same part of every spring compared.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gaugelink.mechanics.spring import SpringInBarrel, check_fits
from gaugelink.mechanics.turns import spiral_turns
from gaugelink.mechanics.wall_contact import (
    Bands,
    Contact,
    bands_of,
    contact_at_bend,
    contact_at_turns,
    turns_given_at,
    whole_strip,
)

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number


@dataclass(frozen=True, slots=True, kw_only=True)
class RunDown:
    """What the whole run of a spring gives, from full wind until it stops.

    ``turns_rings`` and ``turns_spiral`` are geometry: coils as closed rings and as true
    spirals. ``turns_usable`` is where the torque ends, counted in rings, and the only one
    of the three that depends on the free shape. ``energy_mj`` is given off on the way.
    ``last_torque_nmm`` is what is left when every coil lies on the wall, zero where coils
    stay loose; ``loose_coils`` counts these.
    """

    turns_rings: Number
    turns_spiral: Number
    turns_usable: Number
    energy_mj: Number
    last_torque_nmm: Number
    loose_coils: Number


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueCurve:
    """Torque in N mm against barrel turns since full wind, point by point until it stops."""

    turns: tuple[float, ...]
    torque_nmm: tuple[float, ...]


def run_down(spring: SpringInBarrel) -> RunDown:
    """Compute turns, energy in mJ and what is left at the end of a run.

    Args:
        spring: one spring or many.
    """
    bands = bands_of(spring)
    free_bend = spring.full_wind_bend_per_mm
    end = contact_at_bend(bands, free_bend)
    return RunDown(
        turns_rings=bands.turns,
        turns_spiral=spiral_turns(spring),
        turns_usable=turns_given_at(bands, end, free_bend),
        energy_mj=_energy_mj(spring, bands, end),
        last_torque_nmm=torque_at_bend(spring, bands.most_bend_per_mm),
        loose_coils=_loose_coils(bands, end, free_bend),
    )


def usable_turns(spring: SpringInBarrel) -> Number:
    """Compute the barrel turns from full wind until the torque ends, counted in rings.

    The torque ends where the free part has straightened by the full-wind bend, or at
    ``ring_turns`` where the coils reach the wall before.
    """
    bands = bands_of(spring)
    free_bend = spring.full_wind_bend_per_mm
    return turns_given_at(bands, contact_at_bend(bands, free_bend), free_bend)


def torque_after(spring: SpringInBarrel, turns: Number) -> Number:
    """Compute the torque in N mm after so many barrel turns from full wind.

    ``torque_at_bend`` of ``bend_after``; zero once the spring has run down.

    Args:
        spring: one spring or many.
        turns: turns since full wind, 0 or more; nan is returned below 0.
    """
    return torque_at_bend(spring, bend_after(spring, turns))


def bend_after(spring: SpringInBarrel, turns: Number) -> Number:
    """Compute in 1/mm what the free part has straightened by after so many turns.

    2 pi t / L until the wall is touched, then the c(u) whose turns are t, and infinity when
    all turns are given. Geometry alone: it serves every height, modulus and free shape.

    Args:
        spring: one spring or many.
        turns: turns since full wind, 0 or more; nan is returned below 0.
    """
    import numpy as np

    bands = bands_of(spring)
    on_wall = contact_at_turns(bands, bands.turns - turns).bend_per_mm
    while_free = 2 * math.pi * turns / spring.length_mm
    bend = np.where(while_free <= bands.least_bend_per_mm, while_free, on_wall)
    bend = np.where(turns > bands.turns, math.inf, bend)
    after: Number = np.where(np.less(turns, 0.0), math.nan, bend)[()]
    return after


def torque_at_bend(spring: SpringInBarrel, bend_per_mm: Number) -> Number:
    """Compute the torque in N mm when the free part has straightened by a bend.

    M = E I (c_0 - c), with c_0 the full-wind bend, and never below zero.
    """
    import numpy as np

    fallen = spring.rigidity_nmm2 * bend_per_mm
    torque: Number = np.maximum(spring.full_wind_torque_nmm - fallen, 0.0)
    return torque


def torque_curve(spring: SpringInBarrel, *, points: int = 121) -> TorqueCurve:
    """Compute the torque curve of a single spring at evenly spaced turns, for drawing.

    Args:
        spring: one spring; every field a float.
        points: number of points from full wind to the end, 2 or more.

    Raises:
        SizingError: the spring does not fit its barrel.
    """
    import numpy as np

    check_fits(spring)
    turns = np.linspace(0.0, float(usable_turns(spring)), points)
    torque = np.asarray(torque_after(spring, turns))
    return TorqueCurve(turns=tuple(turns.tolist()), torque_nmm=tuple(torque.tolist()))


def _loose_coils(bands: Bands, end: Contact, free_bend_per_mm: Number) -> Number:
    """(1 / 2 pi) times the integral of kappa_w - c_0 over the part that is still free."""
    import numpy as np

    at_rest = np.minimum(free_bend_per_mm, bands.most_bend_per_mm)
    wound = (end.wound_mm - bands.wound_inner_mm) / bands.thickness_mm
    coils: Number = wound - at_rest * end.free_mm2 / (2 * bands.thickness_mm)
    return coils


def _energy_mj(spring: SpringInBarrel, bands: Bands, end: Contact) -> Number:
    """E I / 2 times the integral of c_0^2 - (c_0 - given)^2, ``given`` what each element gave.

    The free part gave c_0, the part on the wall g = kappa_w - kappa_d; the integrals of
    g and g^2 over u are closed.
    """
    import numpy as np

    whole, free_bend = whole_strip(bands), spring.full_wind_bend_per_mm
    p, q, outer_p, outer_q = end.wound_mm, end.down_mm, whole.wound_mm, whole.down_mm
    of_g = 2 * (outer_p - p - outer_q + q)
    of_g_squared = 2 * np.log(outer_p * outer_q / (p * q)) - 4 * np.log(
        (outer_p + outer_q) / (p + q)
    )
    squares = free_bend**2 * end.free_mm2 + 2 * free_bend * of_g - of_g_squared
    energy: Number = spring.rigidity_nmm2 / 2 * math.pi / spring.thickness_mm * squares
    return energy
