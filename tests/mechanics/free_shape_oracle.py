"""The shape of the spring outside its barrel, and the torque curve of any such shape.

The free shape is an input of the torque curve and does not follow from the dimensions.
The best one lets every element reach the same moment at full wind::

    kappa_0(s) = kappa_w(s) - M_max / (E I)

J. Japan Soc. Precision Engineering 18 (1952) no. 205; the same relation in US patent
8 348 496. ``mechanics.torque`` takes this shape, with one number to describe it, the nominal stress
at full wind, in closed form. Here any free curvature, that of a strip set on its own arbor
for one, is taken by quadrature: each element takes
the curvature it wants, limited by the wound pile and the wall,

    kappa(s; M) = clip(kappa_0(s) + M / (E I), kappa_d(s), kappa_w(s)),

and the turns from run down are n(M) = (1 / 2 pi) times the integral of kappa - kappa_d.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.stress import PLASTIC_OVER_YIELD_MOMENT
from gaugelink.mechanics.torque import bands_of, torque_after, usable_turns

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

    Elastic, perfectly plastic bending on its own arbor; see ``curvature_after_set``.
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
    """
    import numpy as np

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


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueCurve:
    """Torque in N mm against barrel turns since full wind, point by point until it stops."""

    turns: tuple[float, ...]
    torque_nmm: tuple[float, ...]


def torque_curve(spring: SpringInBarrel, *, points: int = 121) -> TorqueCurve:
    """Compute the torque curve of a single spring at evenly spaced turns, for drawing.

    Args:
        spring: one spring; every field a float.
        points: number of points from full wind to the end, 2 or more.
    """
    import numpy as np

    turns = np.linspace(0.0, float(usable_turns(spring)), points)
    torque = np.asarray(torque_after(spring, turns))
    return TorqueCurve(turns=tuple(turns.tolist()), torque_nmm=tuple(torque.tolist()))


def yield_curvature_per_mm(yield_mpa: Number, modulus_mpa: Number, thickness_mm: Number) -> Number:
    """Compute the curvature in 1/mm at which the surface of a straight strip yields.

    kappa_y = 2 sigma_y / (E e).
    """
    return 2 * yield_mpa / (modulus_mpa * thickness_mm)


def moment_over_yield(curvature_over_yield: Number) -> Number:
    """Compute M / M_y of an elastic, perfectly plastic strip bent from straight.

    kappa / kappa_y up to 1, then 3/2 [1 - (kappa_y / kappa)^2 / 3]. Derived from the
    stress over the section; the same in any handbook of plastic bending.

    Args:
        curvature_over_yield: kappa / kappa_y, above 0.
    """
    import numpy as np

    plastic = PLASTIC_OVER_YIELD_MOMENT * (1 - np.maximum(curvature_over_yield, 1.0) ** -2.0 / 3)
    moment: Number = np.where(curvature_over_yield <= 1, curvature_over_yield, plastic)[()]
    return moment


def curvature_after_set(
    bent_per_mm: Number, yield_mpa: Number, modulus_mpa: Number, thickness_mm: Number
) -> Number:
    """Compute the free curvature in 1/mm of a strip that was straight and bent once.

    kappa_0 = kappa - M / (E I): it springs back elastically.

    Args:
        bent_per_mm: the curvature it was bent to.
        yield_mpa: uniaxial yield stress.
        modulus_mpa: Young's modulus.
        thickness_mm: thickness of the strip.
    """
    at_yield = yield_curvature_per_mm(yield_mpa, modulus_mpa, thickness_mm)
    return bent_per_mm - moment_over_yield(bent_per_mm / at_yield) * at_yield


def stress_after_set_mpa(spring: SpringInBarrel, yield_mpa: Number) -> Number:
    """Compute the nominal stress in MPa at full wind of a straight strip set on this arbor.

    6 M / (h e^2) of its innermost coil, the stiffest: close to 1.5 sigma_y on a usual arbor.

    Args:
        spring: one spring or many; its own ``full_wind_stress_mpa`` is not used.
        yield_mpa: uniaxial yield stress.
    """
    at_yield = yield_curvature_per_mm(yield_mpa, spring.modulus_mpa, spring.thickness_mm)
    return yield_mpa * moment_over_yield(2 / spring.arbor_mm / at_yield)
