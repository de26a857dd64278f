"""One spring in one barrel, or as many of them as the arrays hold, and what needs no curve.

Symbols in the docstrings of this package, in mm, N and MPa: D = 2R bore, d = 2r arbor
diameter, e thickness, h height, L acting length, E modulus, I = h e^3 / 12, and
x = L e / pi, the edge area over pi. Coils are closed rings; ``as_spiral`` makes spirals of them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number, Truth


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringInBarrel:
    """A mainspring in its barrel; every field is a float or an array, lengths in mm.

    Args:
        bore_mm: inside diameter of the barrel, less what the outer end takes.
        arbor_mm: diameter of the hub.
        thickness_mm: thickness of the strip.
        length_mm: acting length, without bridle or tongue.
        height_mm: height of the strip.
        modulus_mpa: Young's modulus.
        full_wind_stress_mpa: nominal bending stress 6 M / (h e^2) at full wind. It allows
            for the free shape and may reach 1.5 times the yield stress (see ``stress``).
    """

    bore_mm: Number
    arbor_mm: Number
    thickness_mm: Number
    length_mm: Number
    height_mm: Number
    modulus_mpa: Number
    full_wind_stress_mpa: Number

    @property
    def edge_area_over_pi_mm2(self) -> Number:
        """The edge area over pi, x = L e / pi, in mm^2."""
        return self.length_mm * self.thickness_mm / math.pi

    @property
    def rigidity_nmm2(self) -> Number:
        """E I = E h e^3 / 12, in N mm^2."""
        e = self.thickness_mm
        return self.modulus_mpa * self.height_mm * (e * e * e) / 12  # e**3 of an array is slow

    @property
    def full_wind_torque_nmm(self) -> Number:
        """Torque at full wind in N mm: M = sigma h e^2 / 6."""
        return self.full_wind_stress_mpa * self.height_mm * self.thickness_mm**2 / 6

    @property
    def full_wind_bend_per_mm(self) -> Number:
        """Curvature that full wind adds to the free shape, in 1/mm: 2 sigma / (E e)."""
        return 2 * self.full_wind_stress_mpa / (self.modulus_mpa * self.thickness_mm)


def as_spiral(spring: SpringInBarrel, rings: Number = 0.0) -> SpringInBarrel:
    """Return the spring whose rings count the turns of this one coiled as a true spiral.

    A strip that begins on a round arbor and ends on a round wall leaves two wedges empty:
    r + e/2 for r and R - e/2 for R. Derived from the arc length of the Archimedean spiral.

    Args:
        spring: one spring or many.
        rings: how much of the wedges hub and hook fill: 0 none, 1 all, so that coils are rings.
    """
    e = (1 - rings) * spring.thickness_mm
    return replace(spring, bore_mm=spring.bore_mm - e, arbor_mm=spring.arbor_mm + e)


def fits(spring: SpringInBarrel) -> Truth:
    """Whether all sizes are above zero and the strip covers less than the whole ring."""
    sizes_fit: Truth = True
    for field in fields(spring):
        sizes_fit = sizes_fit & (getattr(spring, field.name) > 0)
    ring = (spring.bore_mm**2 - spring.arbor_mm**2) / 4
    return sizes_fit & (spring.edge_area_over_pi_mm2 < ring) & (spring.arbor_mm < spring.bore_mm)
