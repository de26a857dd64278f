"""The length of a spring that nobody uncoils, from what can be seen and weighed of it.

One plain equation for each way, on floats and arrays alike. Lengths in mm, mass in mg,
density in g/cm^3, which is mg/mm^3. ``packing`` is 1 where coils lie close and up to
1.05, from memory, where oil or dirt keeps them apart.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number


def length_from_mass(
    mass_mg: Number, density_g_cm3: Number, height_mm: Number, thickness_mm: Number
) -> Number:
    """Compute the length in mm from the mass of the bare spring: L = m / (rho h e).

    A bridle or a brace adds to the mass and must be weighed out.
    """
    return mass_mg / (density_g_cm3 * height_mm * thickness_mm)


def length_from_band(
    bore_mm: Number, band_inside_mm: Number, thickness_mm: Number, packing: Number
) -> Number:
    """Compute the length in mm from the clear diameter inside the coils on the wall.

    L = pi (D^2 - d_i^2) / (4 q e): the band's area over the thickness.
    """
    return math.pi * (bore_mm**2 - band_inside_mm**2) / (4 * packing * thickness_mm)


def length_from_coils(bore_mm: Number, coils: Number, thickness_mm: Number) -> Number:
    """Compute the length in mm from the number of coils on the wall.

    L = pi n (D - n e): coils times mean circumference, exact for rings.
    """
    return math.pi * coils * (bore_mm - coils * thickness_mm)


def length_from_winder(
    core_mm: Number, wound_outside_mm: Number, thickness_mm: Number, packing: Number
) -> Number:
    """Compute the length in mm from the outside diameter of the coils on a winder's core.

    L = pi (D_o^2 - a^2) / (4 q e), with a the diameter of the core.
    """
    return math.pi * (wound_outside_mm**2 - core_mm**2) / (4 * packing * thickness_mm)


def length_from_winder_coils(core_mm: Number, coils: Number, thickness_mm: Number) -> Number:
    """Compute the length in mm from the number of coils on a winder's core.

    L = pi n (a + n e), exact for rings.
    """
    return math.pi * coils * (core_mm + coils * thickness_mm)


def thickness_from_coils(bore_mm: Number, band_inside_mm: Number, coils: Number) -> Number:
    """Compute the thickness in mm from count and band, without a micrometer.

    e = (D - d_i) / (2 n). Gaps between the coils make it too high.
    """
    return (bore_mm - band_inside_mm) / (2 * coils)


def fill_from_mass(
    mass_mg: Number, density_g_cm3: Number, height_mm: Number, bore_mm: Number, arbor_mm: Number
) -> Number:
    """Compute the part of the ring that a spring covers from its mass, thickness unknown.

    f = 4 m / (rho h pi (D^2 - d^2)): the edge area L e is m / (rho h) whatever e is.
    """
    ring = math.pi * (bore_mm**2 - arbor_mm**2)
    return 4 * mass_mg / (density_g_cm3 * height_mm * ring)
