"""What may be seen of the strength of a found spring, and how likely each sign is at a strain.

The coils of the free spring give its strain at full wind outright (see ``free_spring``); loose
coils, counted turns, the greatest extent and a weight follow from the torque model.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from gaugelink.mechanics.free_spring import free_coils, greatest_extent_mm, reverse_strain
from gaugelink.mechanics.spring import SpringInBarrel, as_spiral
from gaugelink.mechanics.torque import run_down, torque_after, usable_turns
from gaugelink.uncertainty.estimate import Quantity

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.mechanics.strength import FoundBelief
    from gaugelink.uncertainty.estimate import Array

# All of these are judgement, but where a line says otherwise.
FRICTION_AT_REST = 0.08  # of the full-wind bend, which friction holds back at most
SHAPE_SPREAD = 0.10  # of the extent, for free shapes other than the even one
U_LOOSE_COILS = 0.5
U_TURNS = 0.2  # barrel turns, beside what the count is uncertain by
U_FRICTION = 0.05  # of a torque weighed one way: half of 5 to 15 %, from memory
REVERSED = (0.9, 0.05)  # part of ``reverse_strain`` that a reversed end shows, and its spread
NEWTON_PER_G = 9.80665e-3
_STRAINS = 241
_FEW = 6


class SShape(StrEnum):
    """What the outer end of the free spring shows."""

    SEEN = "seen"  # it curves backwards
    GONE = "gone"  # it did once, by its document or its maker, and does no more


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundSeen:
    """The condition of the found spring; None where nobody looked.

    Args:
        free_diameter: greatest extent of the spring laid flat and free, mm.
        free_coils: coils of the spring laid free, those curved the other way counted negative.
        loose_coils: inner coils that do not lie on the wall in the opened barrel.
        crown_turns: turns of the crown from rest to full wind.
        thickness_spread_mm: largest less smallest thickness along the strip, mm.
        thickness_step_mm: display step of the gauge that found it, where that is known.
        s_shape: whether the outer end curves backwards, or did once.
        hung_mass: that balances the spring half a turn below full wind, g.
        hung_radius: at which its thread leaves the barrel, mm.
    """

    free_diameter: Quantity | None = None
    free_coils: Quantity | None = None
    loose_coils: float | None = None
    crown_turns: Quantity | None = None
    thickness_spread_mm: float | None = None
    thickness_step_mm: float | None = None
    s_shape: SShape | None = None
    hung_mass: Quantity | None = None
    hung_radius: Quantity | None = None


class Sign(StrEnum):
    """What can be seen of the strength of a spring."""

    FREE_COILS = "free coils"
    EXTENT = "extent lying free"
    LOOSE_COILS = "loose coils"
    TURNS = "crown turns"
    WEIGHT = "weight on the barrel"
    S_SHAPE = "S shape"


class FoundSizes(NamedTuple):
    """The sizes of the found spring and its barrel; no height where nobody knows it."""

    bore: Quantity
    arbor: Quantity
    thickness: Quantity
    length: Quantity
    height: Quantity | None = None
    coils_off: Quantity | None = None  # part of the empty wedges that hub and hook fill
    crown_ratio: float | None = None  # crown turns for a turn of the barrel arbor


class Told(NamedTuple):
    """What a sign says, with its standard uncertainty; of a weight, the torque in N mm."""

    value: float
    u: float


# Of a sign as usually looked at, with what hub and hook make of a count: judgement.
USUAL_U = {Sign.FREE_COILS: 0.3, Sign.EXTENT: 0.06, Sign.LOOSE_COILS: 0.3, Sign.TURNS: 0.15}


def signs_of(seen: FoundSeen | None, sizes: FoundSizes) -> Iterator[tuple[Sign, Told]]:
    """Take in what was seen: coils and turns as numbers, the extent in bores."""
    if seen is None:
        return
    if seen.free_coils is not None:
        yield Sign.FREE_COILS, told_by(seen.free_coils)
    if seen.free_diameter is not None:
        value, u = told_by(seen.free_diameter)
        bore = sizes.bore.value
        yield Sign.EXTENT, Told(value / bore, u / value)
    if seen.loose_coils is not None:
        yield Sign.LOOSE_COILS, Told(seen.loose_coils, 0.0)
    if seen.crown_turns is not None and sizes.crown_ratio is not None:
        value, u = told_by(seen.crown_turns)
        yield Sign.TURNS, Told(value / sizes.crown_ratio, u / sizes.crown_ratio)
    if None not in (seen.hung_mass, seen.hung_radius, sizes.height):
        mass, radius = told_by(seen.hung_mass), told_by(seen.hung_radius)
        u = math.hypot(mass.u / mass.value, radius.u / radius.value)
        yield Sign.WEIGHT, Told(NEWTON_PER_G * mass.value * radius.value, u)
    if seen.s_shape is not None:
        yield Sign.S_SHAPE, Told(float(seen.s_shape is SShape.SEEN), 0.0)


def told_by(quantity: Quantity | None) -> Told:
    """Return what a quantity says, with its standard uncertainty."""
    assert quantity is not None
    return Told(quantity.value, math.hypot(*(t.factor * t.influence.u for t in quantity.terms)))


class Predictions:
    """What springs of these sizes show at any strain, worked out on a line of strains once each.

    Args:
        values: bore, arbor, thickness and length in mm; height and ``coils_off`` where known.
        strain: what the line has to reach over.
    """

    def __init__(self, values: Mapping[str, float], strain: Array) -> None:
        import numpy as np

        self.line = np.geomspace(strain.min(), strain.max(), _STRAINS)
        self.bore_mm = values["bore"]
        self.spring = as_spiral(
            SpringInBarrel(
                bore_mm=values["bore"],
                arbor_mm=values["arbor"],
                thickness_mm=values["thickness"],
                length_mm=values["length"],
                height_mm=values.get("height", 1.0),
                modulus_mpa=1.0,
                full_wind_stress_mpa=self.line,
            ),
            values.get("coils_off", 0.0),
        )
        self._known: dict[Sign, Array] = {}

    def along(self, sign: Sign) -> Array:
        """Return the sign along the line: a number, bores, or for a weight M / E in mm^3."""
        if sign not in self._known:
            self._known[sign] = self._worked_out(sign)
        return self._known[sign]

    def of(self, sign: Sign, strain: float) -> float:
        """Return the sign at one strain."""
        import numpy as np

        return float(np.interp(strain, self.line, self.along(sign)))

    def _worked_out(self, sign: Sign) -> Array:
        import numpy as np

        rested = replace(self.spring, full_wind_stress_mpa=self.line * (1 - FRICTION_AT_REST / 2))
        found: dict[Sign, Callable[[], Number]] = {
            Sign.FREE_COILS: lambda: free_coils(self.spring),
            Sign.EXTENT: self._extent,
            Sign.LOOSE_COILS: lambda: run_down(rested).loose_coils,
            Sign.TURNS: lambda: usable_turns(rested),
            Sign.WEIGHT: lambda: torque_after(self.spring, 0.5),
        }
        return np.asarray(found[sign]())

    def _extent(self) -> Array:
        """In bores; drawn at a few strains only, of which each takes thousands of points."""
        import numpy as np

        few = self.line[::_FEW]
        extent = greatest_extent_mm(replace(self.spring, full_wind_stress_mpa=few))
        return np.exp(np.interp(np.log(self.line), np.log(few), np.log(extent / self.bore_mm)))


def log_likelihood(sign: Sign, told: Told, predicted: Predictions, belief: FoundBelief) -> Array:
    """Return ln p(sign | strain, modulus, part kept), to a constant."""
    import numpy as np

    if sign is Sign.S_SHAPE:
        if not told.value:  # set for sure, by how much nobody can say
            return np.where(belief.part == 1.0, -np.inf, 0.0)
        part, spread = REVERSED
        over = np.log(belief.strain / (part * float(reverse_strain(predicted.spring)))) / spread
        return -np.logaddexp(0.0, -1.7 * over)  # the logistic curve next to the normal one
    line = predicted.along(sign)
    if sign in (Sign.EXTENT, Sign.WEIGHT):
        expected = np.interp(belief.strain, predicted.line, line)
        if sign is Sign.WEIGHT:
            expected = expected * belief.modulus
        spread = SHAPE_SPREAD if sign is Sign.EXTENT else U_FRICTION
        off = (np.log(np.maximum(expected, 1e-9)) - math.log(told.value)) / math.hypot(
            spread, told.u
        )
        return -off * off / 2
    slope = np.abs(np.gradient(line, np.log(predicted.line)))
    rest = FRICTION_AT_REST / math.sqrt(12)
    own = {Sign.FREE_COILS: 0.0, Sign.LOOSE_COILS: U_LOOSE_COILS}
    least = math.hypot(own.get(sign, U_TURNS), told.u)
    u = np.hypot(least, 0.0 if sign is Sign.FREE_COILS else rest * slope)
    logs = -(((line - told.value) / u) ** 2) / 2 - np.log(u)
    return np.interp(belief.strain, predicted.line, logs)
