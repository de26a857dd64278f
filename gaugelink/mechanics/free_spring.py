"""The spring out of its barrel, laid flat and free: its coils, its extent, an S at its end.

Its curvature is that of full wind less what full wind adds, the same all along the strip
(see ``torque``): kappa_0(s) = 1 / sqrt(r^2 + e s / pi) - c_0. Below zero it curves backwards,
at the outer end first: an S.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gaugelink.mechanics.spring import SpringInBarrel

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.uncertainty.estimate import Array

_POINTS = 400  # along the strip: some thirty a coil
_DIRECTIONS = 18  # in which the extent is looked for: 0.4 % short at most


def coils_wound(spring: SpringInBarrel) -> Number:
    """Compute the coils at full wind: N_w = (sqrt(r^2 + x) - r) / e."""
    import numpy as np

    arbor = spring.arbor_mm / 2
    coils: Number = np.sqrt(arbor**2 + spring.edge_area_over_pi_mm2) - arbor
    return coils / spring.thickness_mm


def free_coils(spring: SpringInBarrel) -> Number:
    """Compute the coils of the free spring, those that curve the other way counted negative.

    N_f = N_w - L c_0 / (2 pi), the integral of kappa_0 over the strip, for every free shape
    with that mean bend.
    """
    given = spring.length_mm * spring.full_wind_bend_per_mm / (2 * math.pi)
    return coils_wound(spring) - given


def strain_from_free_coils(spring: SpringInBarrel, free: Number) -> Number:
    """Compute sigma / E at full wind from the coils of the free spring: pi e (N_w - N_f) / L."""
    return math.pi * spring.thickness_mm * (coils_wound(spring) - free) / spring.length_mm


def reverse_strain(spring: SpringInBarrel) -> Number:
    """Compute the sigma / E from which the outer end of the free spring curves backwards.

    e kappa_w(L) / 2, where c_0 = 2 sigma / (E e) is the curvature of the outer end at full wind.
    """
    import numpy as np

    outer = np.sqrt((spring.arbor_mm / 2) ** 2 + spring.edge_area_over_pi_mm2)
    strain: Number = spring.thickness_mm / (2 * outer)
    return strain


def greatest_extent_mm(spring: SpringInBarrel) -> Array:
    """Compute the greatest extent of the free spring in mm: the widest of its widths.

    Args:
        spring: one spring, or as many as an array of full-wind stresses holds.
    """
    import numpy as np

    arbor, e = spring.arbor_mm / 2, spring.thickness_mm
    at = np.linspace(0.0, 1.0, _POINTS) * spring.length_mm
    wound = 2 * math.pi / e * (np.sqrt(arbor**2 + e * at / math.pi) - arbor)
    bend = np.reshape(spring.full_wind_bend_per_mm, (-1, 1))
    heading = wound - bend * at
    step = at[1] - at[0]
    x, y = (_along(part(heading), step) for part in (np.cos, np.sin))
    widest = np.zeros(len(bend))
    for angle in np.arange(_DIRECTIONS) * math.pi / _DIRECTIONS:
        across = math.cos(angle) * x + math.sin(angle) * y
        widest = np.maximum(widest, np.ptp(across, axis=1))
    return widest


def _along(slope: Array, step_mm: float) -> Array:
    """Return the integral of a slope from the inner end to each point, by trapezoids."""
    import numpy as np

    parts = (slope[:, 1:] + slope[:, :-1]) * (step_mm / 2)
    along: Array = np.cumsum(parts, axis=1)
    return along
