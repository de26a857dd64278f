"""The four measures by which springs are compared with what the barrel should have.

Of a spring beside its reference (r)::

    height   h - limit                        mm
    torque   ln(h / h_r) + 2.5 ln(e / e_r)
    fill     ln(4 L e / (pi (D^2 - d^2)))
    run      ln(turns) - ln(turns needed)

Torque at full wind goes with h e^2 where each spring took its set on its own arbor and with
h e^3 where both have one free shape (see ``mechanics.running``): the exponent is half way
between. A rule has no height, and lower strip is not made up for by thicker: there torque
stands for the thickness alone. Turns are those that drive the watch (see ``acting``).

Every function takes one state or a column of drawn ones; springs lie along the last axis.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gaugelink.choosing.acting import Watch, in_barrel, reference_in_barrel, working_turns
from gaugelink.choosing.springs import Springs
from gaugelink.choosing.state import BarrelState

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.uncertainty.estimate import Array

THICKNESS_EXPONENT = 2.5
# Of the turns of the reference, where nobody knows how long a turn lasts: as 36 h are of 40 h.
NEEDED_OF_REFERENCE = 0.9
_LEAST_TURNS = 0.05  # instead of none, which has no logarithm


@dataclass(frozen=True, slots=True, kw_only=True)
class Measures:
    """The four measures, or their uncertainties; ``height`` is zero where no limit is known."""

    height: Number
    torque: Number
    fill: Number
    run: Number


def measures(state: BarrelState, springs: Springs, watch: Watch) -> Measures:
    """Compute the measures of springs.

    Args:
        state: one barrel, or draws of it as a column.
        springs: as they would be fitted, cut to their length.
        watch: what the barrel stands in.
    """
    return Measures(
        height=height_over(state, springs),
        torque=log_torque(state, springs),
        fill=log_fill(state, springs),
        run=log_turns(state, springs, watch) - log_needed(state, watch),
    )


def height_over(state: BarrelState, springs: Springs) -> Array:
    """Compute by how much springs are higher than they may be, in mm."""
    import numpy as np

    if state.limit_mm is None:
        return np.zeros_like(springs.height_mm)
    over: Array = springs.height_mm - state.limit_mm
    return over


def log_torque(state: BarrelState, springs: Springs) -> Array:
    """Compute the logarithm of full-wind torque over that of the reference."""
    import numpy as np

    thickness: Array = THICKNESS_EXPONENT * np.log(springs.thickness_mm / state.thickness_mm)
    if state.height_mm is None:
        return thickness
    return thickness + np.log(springs.height_mm / state.height_mm)


def log_fill(state: BarrelState, springs: Springs) -> Array:
    """Compute the logarithm of the part of the ring that springs cover."""
    import numpy as np

    return np.log(fill_of(state, springs))


def fill_of(state: BarrelState, springs: Springs) -> Array:
    """Compute the part of the ring that springs cover, 4 L e / (pi (D^2 - d^2))."""
    fill: Array = springs.length_mm * springs.thickness_mm / ring_mm2(state)
    return fill


def ring_mm2(state: BarrelState) -> Number:
    """Compute the area between arbor and wall, in mm^2."""
    return math.pi * (state.bore_mm**2 - state.arbor_mm**2) / 4


def log_turns(state: BarrelState, springs: Springs, watch: Watch) -> Array:
    """Compute the logarithm of the turns that drive the watch."""
    import numpy as np

    turns = working_turns(in_barrel(state, springs, watch), watch.stopwork)
    return np.log(np.maximum(turns, _LEAST_TURNS))


def log_needed(state: BarrelState, watch: Watch) -> Array:
    """Compute the logarithm of the turns that are needed.

    Those of ``RESERVE_H``, but no more than the reference gives; where the hours per turn
    are not known, those of the reference less a tenth.
    """
    import numpy as np

    given = working_turns(reference_in_barrel(state, watch), watch.stopwork)
    asked = watch.reserve_turns
    needed = NEEDED_OF_REFERENCE * given if asked is None else np.minimum(given, asked)
    return np.log(np.maximum(needed, _LEAST_TURNS))
