"""When a spring is bent beyond what it bears: plastic bending, set, and what to warn of.

Bending strain on the arbor is about e / d, three times what a spring alloy bears
elastically, so every straight spring takes a set when it is first wound, and the nominal
stress 6 M / (h e^2) of a healthy one lies above its yield stress, by up to half. Only
what exceeds that is worth a warning.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.torque import bands_of
from gaugelink.model import Advice

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number

# Fully plastic over first-yield moment of a rectangular section: 3/2, any handbook of
# strength of materials.
PLASTIC_OVER_YIELD_MOMENT = 1.5
LEAST_ARBOR_PER_THICKNESS = 20.0  # from memory and common practice


def nominal_stress_mpa(torque_nmm: Number, height_mm: Number, thickness_mm: Number) -> Number:
    """Compute the bending stress in MPa at the surface, as if all were elastic: 6 M / (h e^2)."""
    return 6 * torque_nmm / (height_mm * thickness_mm**2)


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


def stress_range_mpa(spring: SpringInBarrel) -> Number:
    """Compute in MPa how far the stress of the innermost coil swings from full wind to the wall.

    E (e / 2) (kappa_w - kappa_d), the most of any coil.
    """
    half = spring.modulus_mpa * spring.thickness_mm / 2
    return half * bands_of(spring).most_bend_per_mm


def stress_warnings(spring: SpringInBarrel, yield_mpa: float) -> tuple[Advice, ...]:
    """List where a single spring is bent beyond what its material bears.

    Args:
        spring: one spring; every field a float.
        yield_mpa: uniaxial yield stress of its material. The upper end of its band says
            what even the best strip does not bear; the middle would warn of usual springs.
    """
    return tuple(_warnings(spring, yield_mpa))


def _warnings(spring: SpringInBarrel, yield_mpa: float) -> Iterator[Advice]:
    most = PLASTIC_OVER_YIELD_MOMENT * yield_mpa
    arbors = spring.arbor_mm / spring.thickness_mm
    swing = stress_range_mpa(spring)
    if spring.full_wind_stress_mpa > most:
        yield Advice(
            code="moment-over-plastic",
            text=f"A nominal stress of {spring.full_wind_stress_mpa:.0f} MPa at full wind is more "
            f"than the {most:.0f} MPa that this material can give: the torque is overstated.",
        )
    if arbors < LEAST_ARBOR_PER_THICKNESS:
        yield Advice(
            code="arbor-small",
            text=f"The arbor is only {arbors:.0f} times the thickness: below "
            f"{LEAST_ARBOR_PER_THICKNESS:g} a spring sets or breaks.",
        )
    if swing > 2 * yield_mpa:
        yield Advice(
            code="stress-range",
            text=f"The innermost coil swings through {swing:.0f} MPa if the spring runs right "
            f"down to the wall, more than the {2 * yield_mpa:.0f} MPa it bears elastically: "
            "it loses strength with use.",
        )
