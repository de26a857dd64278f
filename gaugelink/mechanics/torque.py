"""The torque curve of a spring, friction left out: turns that can be used, torque, energy.

Every function takes one spring or arrays of them, and returns nan where the strip does
not fit its ring. Torque is what the spring gives; coil friction and the hook take 5 to
15 % of it, from memory, and the same part of every spring compared.

How a wound spring lets go, coil by coil, until it lies on the wall, is pure geometry. At
full wind every element has the curvature kappa_w(s) = 1 / sqrt(r^2 + e s / pi), run down
kappa_d(s) = 1 / sqrt(b^2 + e s / pi) with b^2 = R^2 - x, s counted from the arbor. The
free shape is such that full wind bends every element by the same amount, kappa_0(s) =
kappa_w(s) - M_max / (E I): J. Japan Soc. Precision Engineering 18 (1952) no. 205; the same
relation in US patent 8 348 496. When the torque has fallen by E I c, each element has
straightened by c, or by kappa_w - kappa_d where that is less: there it lies on the wall.
Because kappa_w - kappa_d falls along the strip, the outer part is on the wall and the inner
part hangs free; u = e s / pi says where they meet.

With p = sqrt(r^2 + u) and q = sqrt(b^2 + u) everything is closed:

    bend        c(u) = 1/p - 1/q
    turns left  n(u) = [ (p - r)^2 / p - (q - b)^2 / q ] / (2 e)

While nothing lies on the wall, u = x and the turns given are proportional to c.
Derived here; the tests compare it with numerical quadrature of the same integrals.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from gaugelink.mechanics.spring import SpringInBarrel

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number


class RunDown(NamedTuple):
    """What the whole run of a spring gives, from full wind until it stops; worked out as asked.

    ``end`` is where the strip meets the wall when the torque ends, ``free_bend_per_mm`` what
    the free part has straightened by then: the full-wind bend.
    """

    spring: SpringInBarrel
    bands: Bands
    end: Contact
    free_bend_per_mm: Number

    @property
    def turns_rings(self) -> Number:
        """Turns of the geometry alone, from wound to run down, coils as closed rings."""
        return self.bands.turns

    @property
    def turns_usable(self) -> Number:
        """Turns until the torque ends, counted in rings; they depend on the free shape."""
        return turns_given_at(self.bands, self.end, self.free_bend_per_mm)

    @property
    def last_torque_nmm(self) -> Number:
        """What is left when every coil lies on the wall, zero where coils stay loose."""
        return torque_at_bend(self.spring, self.bands.most_bend_per_mm)

    @property
    def loose_coils(self) -> Number:
        """(1 / 2 pi) times the integral of kappa_w - c_0 over the part that is still free."""
        import numpy as np

        bands, end = self.bands, self.end
        at_rest = np.minimum(self.free_bend_per_mm, bands.most_bend_per_mm)
        wound = (end.wound_mm - bands.wound_inner_mm) / bands.thickness_mm
        coils: Number = wound - at_rest * end.free_mm2 / (2 * bands.thickness_mm)
        return coils

    @property
    def energy_mj(self) -> Number:
        """E I / 2 times the integral of c_0^2 - (c_0 - given)^2, ``given`` what each element gave.

        The free part gave c_0, the part on the wall g = kappa_w - kappa_d; the integrals of
        g and g^2 over u are closed.
        """
        import numpy as np

        spring, end = self.spring, self.end
        whole, free_bend = whole_strip(self.bands), self.free_bend_per_mm
        p, q, outer_p, outer_q = end.wound_mm, end.down_mm, whole.wound_mm, whole.down_mm
        of_g = 2 * (outer_p - p - outer_q + q)
        of_g_squared = 2 * np.log(outer_p * outer_q / (p * q)) - 4 * np.log(
            (outer_p + outer_q) / (p + q)
        )
        squares = free_bend**2 * end.free_mm2 + 2 * free_bend * of_g - of_g_squared
        energy: Number = spring.rigidity_nmm2 / 2 * math.pi / spring.thickness_mm * squares
        return energy


def run_down(spring: SpringInBarrel) -> RunDown:
    """Find where the run of one spring or of many ends, and with it what it gives."""
    bands, free_bend = bands_of(spring), spring.full_wind_bend_per_mm
    end = contact_at_bend(bands, free_bend)
    return RunDown(spring=spring, bands=bands, end=end, free_bend_per_mm=free_bend)


def usable_turns(spring: SpringInBarrel) -> Number:
    """Compute the barrel turns from full wind until the torque ends, counted in rings.

    The torque ends where the free part has straightened by the full-wind bend, or at
    ``ring_turns`` where the coils reach the wall before.
    """
    return run_down(spring).turns_usable


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
    while_free = 2 * math.pi * turns / spring.length_mm
    if np.all((while_free <= bands.least_bend_per_mm) & np.greater_equal(turns, 0.0)):
        return while_free  # nothing lies on the wall yet
    on_wall = contact_at_turns(bands, bands.turns - turns).bend_per_mm
    bend = np.where(while_free <= bands.least_bend_per_mm, while_free, on_wall)
    bend = np.where(turns > bands.turns, math.inf, bend)
    after: Number = np.where(np.less(turns, 0.0), math.nan, bend)[()]
    return after


def turns_until(spring: SpringInBarrel, torque_nmm: Number) -> Number:
    """Compute the turns from full wind until the torque has fallen to so much, in N mm.

    ``turns_given_at`` the bend c_0 - M / (E I); none where there is less torque at full wind.
    """
    import numpy as np

    bands = bands_of(spring)
    bend = spring.full_wind_bend_per_mm - torque_nmm / spring.rigidity_nmm2
    bend = np.clip(bend, 0.0, bands.most_bend_per_mm)
    turns: Number = turns_given_at(bands, contact_at_bend(bands, bend), bend)
    return turns


def torque_at_bend(spring: SpringInBarrel, bend_per_mm: Number) -> Number:
    """Compute the torque in N mm when the free part has straightened by a bend.

    M = E I (c_0 - c), with c_0 the full-wind bend, and never below zero.
    """
    import numpy as np

    fallen = spring.rigidity_nmm2 * bend_per_mm
    torque: Number = np.maximum(spring.full_wind_torque_nmm - fallen, 0.0)
    return torque


def ring_turns(spring: SpringInBarrel) -> Number:
    """Compute the turns from wound to run down, coils taken as closed rings.

    N = [sqrt(r^2 + x) + sqrt(R^2 - x) - r - R] / e. Roze's theorem, in G. H. A. Hazlitt
    (ed.), The American Watchmaker and Jeweler, Chicago 1892, p. 237.
    """
    return bands_of(spring).turns


# Newton steps from the starting values below: enough for the last bit at any fill and
# any arbor from 0.05 to 0.7 of the bore.
_STEPS_FOR_BEND_SINGLE, _STEPS_FOR_BEND = 3, 2
_STEPS_FOR_TURNS = 4


class Bands(NamedTuple):
    """The radii, in mm, between which the strip lies wound and run down, and its x in mm^2.

    ``down_inner_mm`` is nan where the strip does not fit its ring, and with it all that
    follows. ``gap_mm2`` is q^2 - p^2, the same all along the strip, and ``most_bend_per_mm``
    what the innermost element straightens by from full wind to the wall.
    """

    thickness_mm: Number
    area_mm2: Number
    wound_inner_mm: Number
    wound_outer_mm: Number
    down_inner_mm: Number
    down_outer_mm: Number
    gap_mm2: Number
    most_bend_per_mm: Number

    @property
    def least_bend_per_mm(self) -> Number:
        """What the outermost element straightens by from full wind to the wall, in 1/mm."""
        return 1 / self.wound_outer_mm - 1 / self.down_outer_mm

    @property
    def turns(self) -> Number:
        """Turns from wound to run down, in rings."""
        wound = self.wound_outer_mm - self.wound_inner_mm
        return (wound - self.down_outer_mm + self.down_inner_mm) / self.thickness_mm


def bands_of(spring: SpringInBarrel) -> Bands:
    """Compute the bands of a spring, in mm."""
    import numpy as np

    arbor, wall = spring.arbor_mm / 2, spring.bore_mm / 2
    area = spring.edge_area_over_pi_mm2
    with np.errstate(invalid="ignore"):
        down_inner = np.sqrt(wall**2 - area)
    # The run-down coils would reach the arbor.
    down_inner = np.where(down_inner > arbor, down_inner, math.nan)[()]
    return Bands(
        thickness_mm=spring.thickness_mm,
        area_mm2=area,
        wound_inner_mm=arbor,
        wound_outer_mm=np.sqrt(arbor**2 + area),
        down_inner_mm=down_inner,
        down_outer_mm=wall,
        gap_mm2=(down_inner - arbor) * (down_inner + arbor),
        most_bend_per_mm=1 / arbor - 1 / down_inner,
    )


class Contact(NamedTuple):
    """Where the free part of the strip meets the part on the wall.

    ``free_mm2`` is u; ``wound_mm`` and ``down_mm`` are p and q, the radii of that element
    at full wind and on the wall. ``bend_per_mm`` is c(u).
    """

    free_mm2: Number
    wound_mm: Number
    down_mm: Number
    bend_per_mm: Number


def contact_at_bend(bands: Bands, bend_per_mm: Number) -> Contact:
    """Find where the strip meets the wall when the free part has straightened by a bend.

    With k = c sqrt(q^2 - p^2) and y = (q - p) / sqrt(q^2 - p^2), c = 1/p - 1/q becomes
    k y^4 + 4 y^3 - k = 0, convex and rising, so that Newton's steps from above cannot
    miss. A bend beyond the limits gives u = x (nothing on the wall) or u = 0 (all).
    """
    import numpy as np

    root = np.sqrt(bands.gap_mm2)
    k = root * np.clip(bend_per_mm, bands.least_bend_per_mm, bands.most_bend_per_mm)
    # The first steps in single precision, which take half as long, as does a logarithm.
    single = k.astype(np.float32)
    y = np.minimum(np.exp(np.log(single / 4) / 3), 1.0)
    for _ in range(_STEPS_FOR_BEND_SINGLE):
        y = _stepped(single, y)
    y = y.astype(np.float64)
    for _ in range(_STEPS_FOR_BEND):
        y = _stepped(k, y)
    wound = root * (1 / y - y) / 2
    return _contact(bands, wound)


def _stepped(k: Number, y: Number) -> Number:
    ky, square = k * y, y * y
    return y - ((ky + 4) * (square * y) - k) / (4 * square * (ky + 3))


def contact_at_turns(bands: Bands, turns_left: Number) -> Contact:
    """Find where the strip meets the wall when so many turns are left until run down.

    Newton's steps on sqrt(n), which unlike n has a slope at run down. The start takes the
    second term of n(u) as a part of the first, which it is exactly at run down and where
    the wall is touched, and nearly in between. More turns than that give u = x.
    """
    import numpy as np

    arbor, e, whole = bands.wound_inner_mm, bands.thickness_mm, whole_strip(bands)
    most = turns_left_at(bands, whole)
    turns = np.clip(turns_left, 0.0, most)
    narrowing = arbor / bands.down_inner_mm
    at_end = narrowing * narrowing * narrowing
    at_wall = 1 - 2 * e * most * whole.wound_mm / (whole.wound_mm - arbor) ** 2
    start = 2 * e * turns / (1 - at_end - (at_wall - at_end) * turns / most)
    p = arbor + start / 2 + np.sqrt(start * (start / 4 + arbor))
    for _ in range(_STEPS_FOR_TURNS):
        q = np.sqrt(p * p + bands.gap_mm2)
        left = _turns_left(bands, p, q)
        slope = (p - arbor) * (p + arbor) * (1 / (p * p) - p / (q * q * q)) / (2 * e)
        p = p - 2 * (left - np.sqrt(left * turns)) / np.where(slope > 0, slope, 1.0)
    return _contact(bands, p)


def whole_strip(bands: Bands) -> Contact:
    """Return the contact at the moment when the outermost element touches the wall: u = x."""
    return _contact(bands, bands.wound_outer_mm)


def turns_left_at(bands: Bands, contact: Contact) -> Number:
    """Compute n(u), the turns left until run down once the wall is touched."""
    return _turns_left(bands, contact.wound_mm, contact.down_mm)


def turns_given_at(bands: Bands, contact: Contact, bend_per_mm: Number) -> Number:
    """Compute the turns given since full wind when the free part has straightened by a bend.

    N - n(u), and before the wall is touched u (c - c(x)) / (2 e) on top, which is negative.
    """
    import numpy as np

    before = np.minimum(bend_per_mm - contact.bend_per_mm, 0.0)
    free = contact.free_mm2 / (2 * bands.thickness_mm)
    turns: Number = bands.turns - turns_left_at(bands, contact) + before * free
    return turns


def _contact(bands: Bands, wound_mm: Number) -> Contact:
    import numpy as np

    arbor = bands.wound_inner_mm
    free = np.clip((wound_mm - arbor) * (wound_mm + arbor), 0.0, bands.area_mm2)
    p, q = np.sqrt(arbor**2 + free), np.sqrt(bands.down_inner_mm**2 + free)
    return Contact(free_mm2=free, wound_mm=p, down_mm=q, bend_per_mm=(q - p) / (p * q))


def _turns_left(bands: Bands, p: Number, q: Number) -> Number:
    on_arbor = (p - bands.wound_inner_mm) ** 2 / p
    on_wall = (q - bands.down_inner_mm) ** 2 / q
    return (on_arbor - on_wall) / (2 * bands.thickness_mm)
