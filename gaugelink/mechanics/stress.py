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
from gaugelink.mechanics.torque import Bands, bands_of
from gaugelink.model import Advice

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number

# Fully plastic over first-yield moment of a rectangular section: 3/2, any handbook of
# strength of materials.
PLASTIC_OVER_YIELD_MOMENT = 1.5
# r / e of 10 and more is recommended, below it the strip nears its breaking stress:
# EP 3 575 885 A1, [0003].
LEAST_ARBOR_PER_THICKNESS = 20.0


def stress_range_mpa(spring: SpringInBarrel, bands: Bands | None = None) -> Number:
    """Compute in MPa how far the stress of the innermost coil swings from full wind to rest.

    E (e / 2) (kappa_w - kappa_d), the most of any coil, where it runs down to the wall; where
    it stays loose it gives all of its full-wind stress and no more.

    Args:
        spring: one spring or many.
        bands: its own, where they are known already.
    """
    import numpy as np

    half = spring.modulus_mpa * spring.thickness_mm / 2
    to_wall = half * (bands or bands_of(spring)).most_bend_per_mm
    swing: Number = np.minimum(to_wall, spring.full_wind_stress_mpa)
    return swing


def stress_warnings(spring: SpringInBarrel, yield_mpa: float) -> tuple[Advice, ...]:
    """List where a single spring is bent beyond what its material bears.

    Args:
        spring: one spring as a spiral, see ``as_spiral``; every field a float.
        yield_mpa: uniaxial yield stress of its material. The upper end of its band says
            what even the best strip does not bear; the middle would warn of usual springs.
    """
    return tuple(_warnings(spring, yield_mpa))


def _warnings(spring: SpringInBarrel, yield_mpa: float) -> Iterator[Advice]:
    most = PLASTIC_OVER_YIELD_MOMENT * yield_mpa
    arbors = spring.arbor_mm / spring.thickness_mm - 1  # as a spiral it begins half of one out
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
            text=f"The innermost coil swings through {swing:.0f} MPa, more than the "
            f"{2 * yield_mpa:.0f} MPa it bears elastically: it loses strength with use.",
        )
