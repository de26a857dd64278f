"""The shape of the spring outside its barrel, and the torque curve of any such shape.

The free shape is an input of the torque curve and does not follow from the dimensions.
The best one lets every element reach the same moment at full wind::

    kappa_0(s) = kappa_w(s) - M_max / (E I)

J. Japan Soc. Precision Engineering 18 (1952) no. 205; the same relation in US patent
8 348 496. ``torque`` takes this shape, with one number to describe it, the nominal stress
at full wind; ``materials`` gives a band for that stress. Here any other free curvature,
that of a strip set on its own arbor for one, is taken by quadrature: each element takes
the curvature it wants, limited by the wound pile and the wall,

    kappa(s; M) = clip(kappa_0(s) + M / (E I), kappa_d(s), kappa_w(s)),

and the turns from run down are n(M) = (1 / 2 pi) times the integral of kappa - kappa_d.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gaugelink.mechanics.spring import SpringInBarrel, check_fits
from gaugelink.mechanics.stress import curvature_after_set
from gaugelink.mechanics.torque import TorqueCurve, bands_of

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.uncertainty.estimate import Array

ELEMENTS = 4000  # midpoint rule: turns to 1e-5 for a smooth free curvature


def elements_mm(spring: SpringInBarrel, *, count: int = ELEMENTS) -> Array:
    """Return the places along the strip, in mm from the arbor, at which a shape is taken.

    The middles of equal elements of a single spring.
    """
    import numpy as np

    return (np.arange(count) + 0.5) * spring.length_mm / count


def wound_curvature_per_mm(spring: SpringInBarrel, along_mm: Array) -> Array:
    """Compute kappa_w = 1 / sqrt(r^2 + e s / pi), in 1/mm, of the spring wound on its arbor."""
    return _curvature(spring, (spring.arbor_mm / 2) ** 2, along_mm)


def run_down_curvature_per_mm(spring: SpringInBarrel, along_mm: Array) -> Array:
    """Compute kappa_d = 1 / sqrt(R^2 - x + e s / pi), in 1/mm, of the spring on the wall."""
    inner = (spring.bore_mm / 2) ** 2 - spring.edge_area_over_pi_mm2
    return _curvature(spring, inner, along_mm)


def even_free_curvature_per_mm(spring: SpringInBarrel, along_mm: Array) -> Array:
    """Compute the free curvature in 1/mm that full wind bends evenly: kappa_w - 2 sigma / (E e).

    Where it is negative the strip is bent the other way: the spring is an S.
    """
    return wound_curvature_per_mm(spring, along_mm) - spring.full_wind_bend_per_mm


def set_free_curvature_per_mm(spring: SpringInBarrel, along_mm: Array, yield_mpa: float) -> Array:
    """Compute the free curvature in 1/mm of a straight strip after its first full wind.

    Elastic, perfectly plastic bending on its own arbor; see ``stress.curvature_after_set``.
    """
    import numpy as np

    wound = wound_curvature_per_mm(spring, along_mm)
    return np.asarray(
        curvature_after_set(wound, yield_mpa, spring.modulus_mpa, spring.thickness_mm)
    )


def reverse_stress_mpa(spring: SpringInBarrel) -> Number:
    """Compute the nominal stress in MPa above which the evenly bent spring is an S when free.

    E e kappa_w / 2 at the outer end, where the free curvature is least.
    """
    outer = bands_of(spring).wound_outer_mm
    return spring.modulus_mpa * spring.thickness_mm / (2 * outer)


def curve_of_shape(
    spring: SpringInBarrel, free_curvature_per_mm: Array, *, points: int = 121
) -> TorqueCurve:
    """Compute the torque curve of a single spring from its free curvature, by quadrature.

    Full wind is where the last element has reached the wound pile. The curve is evenly
    spaced in torque and ends at zero torque, or at what is left on the wall.

    Args:
        spring: one spring; its ``full_wind_stress_mpa`` is not used.
        free_curvature_per_mm: free curvature in 1/mm at ``elements_mm(spring)``.
        points: number of points, 2 or more.

    Raises:
        SizingError: the spring does not fit its barrel.
    """
    import numpy as np

    check_fits(spring)
    along = elements_mm(spring, count=len(free_curvature_per_mm))
    wound = wound_curvature_per_mm(spring, along)
    down = run_down_curvature_per_mm(spring, along)
    bends = np.linspace(
        float(np.max(wound - free_curvature_per_mm)),
        max(float(np.min(down - free_curvature_per_mm)), 0.0),
        points,
    )
    given = [
        float(np.mean(wound - np.clip(free_curvature_per_mm + bend, down, wound)))
        for bend in bends.tolist()
    ]
    per_bend = float(spring.length_mm) / (2 * math.pi)
    torque = np.asarray(spring.rigidity_nmm2 * bends)
    return TorqueCurve(
        turns=tuple(per_bend * mean for mean in given), torque_nmm=tuple(torque.tolist())
    )


def _curvature(spring: SpringInBarrel, start_mm2: Number, along_mm: Array) -> Array:
    import numpy as np

    curvature: Array = 1 / np.sqrt(start_mm2 + spring.thickness_mm * along_mm / math.pi)
    return curvature
