"""How strong a spring is: what its material says of a healthy one, and what was seen of this one.

A spring is strained beyond its elastic limit over the whole of its length when it is first
wound (EP 3 575 885 A1, [0002] and [0003]), so the nominal stress sigma = 6 M / (h e^2) at full
wind belongs to the material: ``Material.healthy_mpa`` has it with its spread. A new spring is
healthy. A found one keeps a part tau of that: tau = 1 with a probability of a half, else
anything from 0.55 to 1 (judgement).

What shows of a spring is its strain at full wind, sigma / E, whatever E is. The coils of the
free spring give it outright (see ``free_spring``); loose coils, counted turns, the greatest
extent and a weight follow from the torque model. Each is a likelihood. On a grid of ln sigma
(healthy), ln tau and ln E the posterior is prior times likelihoods; strain, modulus and healthy
stress come out as quantities, each with its own distribution and its regression on the ones
before. The sizes that the prediction was made with move the strain as they move its mean: it
shares their influences, as a length from clues does.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from gaugelink.mechanics.band import assumed
from gaugelink.mechanics.free_spring import free_coils, greatest_extent_mm, reverse_strain
from gaugelink.mechanics.spring import SpringInBarrel, as_spiral
from gaugelink.mechanics.torque import run_down, torque_after, usable_turns
from gaugelink.uncertainty.estimate import (
    Influence,
    Quantity,
    Term,
    best_values,
    independent_influences,
    moved_values,
    tabulated,
)

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.mechanics.materials import Material
    from gaugelink.uncertainty.estimate import Array

# All of these are judgement, but where a line says otherwise.
HEALTHY_SHARE = 0.5
LEAST_KEPT = 0.55
TIRED_BELOW = 0.9  # of its strength: what a repairer calls tired
FRICTION_AT_REST = 0.08  # of the full-wind bend, which friction holds back at most
SHAPE_SPREAD = 0.10  # of the extent, for free shapes other than the even one
UNEVEN_SPREAD = 0.05  # of the stress, where the thickness varies by 3 % or more
UNEVEN_FROM = 0.03
HUB_COILS = 0.3  # of a coil or turn, that hub, hook and eye take or leave either way
U_LOOSE_COILS = 0.5
U_TURNS = 0.2  # barrel turns, beside what the count is uncertain by
U_FRICTION = 0.05  # of a torque weighed one way: half of 5 to 15 %, from memory
REVERSED = (0.9, 0.05)  # part of ``reverse_strain`` that a reversed end shows, and its spread
NEWTON_PER_G = 9.80665e-3
_DEVIATES, _STEPS_HEALTHY, _STEPS_KEPT, _STEPS_MODULUS = 4.0, 101, 30, 9
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
    crown_ratio: float | None = None  # crown turns for a turn of the barrel arbor


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundStrength:
    """What the signs come to.

    Args:
        used: the signs that count.
        u_part: standard uncertainty of the full-wind stress, as a part of it.
        u_part_unseen: the same with nothing seen.
        p_tired: probability that it keeps less than ``TIRED_BELOW`` of its strength.
        healthy_loose: loose coils of 95 of 100 healthy springs of this size.
        healthy_extent: their greatest extent lying free, in bores.
        next: the signs that nobody looked for, with the ``u_part`` each would leave, best first.
    """

    used: tuple[Sign, ...]
    u_part: float
    u_part_unseen: float
    p_tired: float
    healthy_loose: tuple[float, float]
    healthy_extent: tuple[float, float]
    next: tuple[tuple[Sign, float], ...]


def new_strength(material: Material) -> dict[str, Quantity]:
    """Return ``modulus`` in GPa and ``full_wind_stress`` in MPa of new springs of a material."""
    return {"modulus": _modulus(material, "new"), "full_wind_stress": _healthy(material, "new")}


def found_strength_unseen(
    material: Material, thickness: Quantity, seen: FoundSeen | None
) -> dict[str, Quantity]:
    """Return the strength of a found spring of which nothing was seen but its thickness.

    ``found.modulus`` in GPa, ``found.healthy_stress`` in MPa, and ``found.strength_kept``, the
    part of that which is left. What is not known of a definite material is one and the same as
    for new springs of it.
    """
    import numpy as np

    part, weight = _parts_kept()
    mean, kept = tabulated("strength that the found spring kept", part, weight)
    uneven = _uneven(thickness, seen)
    terms = (Term(influence=kept), *(Term(influence=each, factor=mean) for each in uneven))
    return {
        "found.modulus": _modulus(material, "found"),
        "found.healthy_stress": _healthy(material, "found"),
        "found.strength_kept": Quantity(
            label="found.strength_kept", value=float(np.float64(mean)), unit="1", terms=terms
        ),
    }


def _whose(material: Material, whose: str) -> str:
    return material.name if material.is_definite else f"the {whose} spring"


def _modulus(material: Material, whose: str) -> Quantity:
    return assumed(f"modulus of {_whose(material, whose)}", material.modulus_gpa, "GPa")


def _healthy(material: Material, whose: str) -> Quantity:
    stress, weight = _healthy_grid(material, 801)
    label = f"full wind stress of {_whose(material, whose)}"
    mean, influence = tabulated(f"{label} assumed", stress, weight)
    return Quantity(label=label, value=mean, unit="MPa", terms=(Term(influence=influence),))


def _healthy_grid(material: Material, steps: int) -> tuple[Array, Array]:
    import numpy as np

    deviate = np.linspace(-_DEVIATES, _DEVIATES, steps)
    return np.asarray(material.healthy_mpa.at(deviate)), np.exp(-deviate * deviate / 2)


def _parts_kept() -> tuple[Array, Array]:
    import numpy as np

    steps = (np.arange(_STEPS_KEPT) + 0.5) / _STEPS_KEPT
    part = np.append(LEAST_KEPT + (1 - LEAST_KEPT) * steps, 1.0)
    weight = np.append(np.full(_STEPS_KEPT, (1 - HEALTHY_SHARE) / _STEPS_KEPT), HEALTHY_SHARE)
    return part, weight


def _uneven(thickness: Quantity, seen: FoundSeen | None) -> Iterator[Influence]:
    spread_mm = seen.thickness_spread_mm if seen is not None else None
    if spread_mm is not None and spread_mm > UNEVEN_FROM * thickness.value:
        yield Influence(label="uneven thickness of the found spring", kind="B", u=UNEVEN_SPREAD)


class FoundBelief:
    """What may be of a found spring once its signs are taken in, on a grid with weights.

    Args:
        material: of the found spring.
        sizes: its own and those of its barrel.
        seen: its condition; None where nobody looked.
    """

    def __init__(self, material: Material, sizes: FoundSizes, seen: FoundSeen | None) -> None:
        import numpy as np

        self.material, self.sizes, self.seen = material, sizes, seen
        stress, weight = _healthy_grid(material, _STEPS_HEALTHY)
        part, part_weight = _parts_kept()
        band = material.modulus_gpa
        steps = (np.arange(_STEPS_MODULUS) + 0.5) / _STEPS_MODULUS
        modulus = 1000 * (band.low + (band.high - band.low) * steps)
        self.healthy, self.part, self.modulus = (
            axis.ravel() for axis in np.meshgrid(stress, part, modulus, indexing="ij")
        )
        self.prior = np.multiply.outer(
            np.multiply.outer(weight, part_weight), np.full(_STEPS_MODULUS, 1.0)
        ).ravel()
        self.stress = self.healthy * self.part
        self.strain = self.stress / self.modulus
        self.signs = dict(_signs(seen, sizes))
        values = best_values(self._known())
        self.predictions = _Predictions(values, self.strain)
        self.weight = self._posterior(self.predictions, self.signs)

    def quantities(self, new: Mapping[str, Quantity]) -> dict[str, Quantity]:
        """Return ``found.strain`` and ``found.modulus`` in GPa, and what they tell of new springs.

        Args:
            new: what ``new_strength`` gives for new springs; replaced where they are of the one
                definite material.
        """
        strain, at_strain = tabulated("strain of the found spring", self.strain, self.weight)
        modulus = _regressed(
            "modulus of the found spring",
            self.modulus / 1000,
            [(at_strain, self.strain)],
            self.weight,
        )
        known = {
            "found.strain": Quantity(
                label="found.strain",
                value=strain,
                unit="1",
                terms=(Term(influence=at_strain), *self._moved_by_sizes(strain)),
            ),
            "found.modulus": replace(modulus, unit="GPa"),
        }
        shared = f"full wind stress of {self.material.name}"
        if new["full_wind_stress"].label != shared:
            return known
        own = modulus.terms[-1].influence
        healthy = _regressed(
            "healthy stress of the found spring",
            self.healthy,
            [(at_strain, self.strain), (own, self._modulus_alone(modulus, strain))],
            self.weight,
        )
        return {
            **known,
            "modulus": replace(modulus, unit="GPa"),
            "full_wind_stress": replace(healthy, unit="MPa"),
        }

    def finding(self) -> FoundStrength:
        """Return what the signs come to, and which one to look for next."""
        import numpy as np

        healthy = self.prior * (self.part == 1.0)
        tired = self.part < TIRED_BELOW
        quantiles = [_quantile(self.strain, healthy, p) for p in (0.025, 0.975)]
        predicted = self.predictions
        loose = np.sort([predicted.of(Sign.LOOSE_COILS, q) for q in quantiles])
        extent = np.sort([predicted.of(Sign.EXTENT, q) for q in quantiles])
        return FoundStrength(
            used=tuple(self.signs),
            u_part=_spread(self.stress, self.weight),
            u_part_unseen=_spread(self.stress, self.prior),
            p_tired=float(self.weight[tired].sum() / self.weight.sum()),
            healthy_loose=(float(loose[0]), float(loose[1])),
            healthy_extent=(float(extent[0]), float(extent[1])),
            next=tuple(sorted(self._next(), key=lambda each: each[1])),
        )

    def _next(self) -> Iterator[tuple[Sign, float]]:
        mean = float((self.strain * self.weight).sum() / self.weight.sum())
        possible = [Sign.FREE_COILS, Sign.EXTENT, Sign.LOOSE_COILS]
        if self.sizes.crown_ratio is not None:
            possible.append(Sign.TURNS)
        for sign in possible:
            if sign not in self.signs:
                told = _Told(self.predictions.of(sign, mean), _USUAL_U[sign])
                weight = self._posterior(self.predictions, {**self.signs, sign: told})
                yield sign, _spread(self.stress, weight)

    def _known(self) -> tuple[Quantity, ...]:
        given = self.sizes._asdict()
        named = ("bore", "arbor", "thickness", "length", "height")
        return tuple(replace(given[n], label=n) for n in named if given[n] is not None)

    def _posterior(self, predicted: _Predictions, signs: Mapping[Sign, _Told]) -> Array:
        import numpy as np

        logs = np.zeros_like(self.strain)
        for sign, told in signs.items():
            logs = logs + _log_likelihood(sign, told, predicted, self)
        weight: Array = self.prior * np.exp(logs - logs.max())
        return weight

    def _moved_by_sizes(self, strain: float) -> Iterator[Term]:
        """What the sizes move the mean strain by, per unit of each of their influences."""
        known = self._known()
        for influence in independent_influences(known):
            ends = []
            for step in (influence.u, -influence.u):
                predicted = _Predictions(moved_values(known, influence, step), self.strain)
                weight = self._posterior(predicted, self.signs)
                ends.append(float((self.strain * weight).sum() / weight.sum()))
            yield Term(influence=influence, factor=(ends[0] - ends[1]) / (2 * influence.u))
        for uneven in _uneven(self.sizes.thickness, self.seen):
            yield Term(influence=uneven, factor=strain)

    def _modulus_alone(self, modulus: Quantity, strain: float) -> Array:
        """The part of the modulus in GPa that the strain does not tell."""
        told = modulus.value + modulus.terms[0].factor * (self.strain - strain)
        return self.modulus / 1000 - told


class _Told(NamedTuple):
    """What a sign says, with its standard uncertainty; of a weight, the torque in N mm."""

    value: float
    u: float


_USUAL_U = {Sign.FREE_COILS: 0.25, Sign.EXTENT: 0.06, Sign.LOOSE_COILS: 0.0, Sign.TURNS: 0.0}


def _signs(seen: FoundSeen | None, sizes: FoundSizes) -> Iterator[tuple[Sign, _Told]]:
    """Take in what was seen: coils and turns as numbers, the extent in bores."""
    if seen is None:
        return
    if seen.free_coils is not None:
        yield Sign.FREE_COILS, _told(seen.free_coils)
    if seen.free_diameter is not None:
        value, u = _told(seen.free_diameter)
        bore = sizes.bore.value
        yield Sign.EXTENT, _Told(value / bore, u / value)
    if seen.loose_coils is not None:
        yield Sign.LOOSE_COILS, _Told(seen.loose_coils, 0.0)
    if seen.crown_turns is not None and sizes.crown_ratio is not None:
        value, u = _told(seen.crown_turns)
        yield Sign.TURNS, _Told(value / sizes.crown_ratio, u / sizes.crown_ratio)
    if None not in (seen.hung_mass, seen.hung_radius, sizes.height):
        mass, radius = _told(seen.hung_mass), _told(seen.hung_radius)
        u = math.hypot(mass.u / mass.value, radius.u / radius.value)
        yield Sign.WEIGHT, _Told(NEWTON_PER_G * mass.value * radius.value, u)
    if seen.s_shape is not None:
        yield Sign.S_SHAPE, _Told(float(seen.s_shape is SShape.SEEN), 0.0)


def _told(quantity: Quantity | None) -> _Told:
    assert quantity is not None
    return _Told(quantity.value, math.hypot(*(t.factor * t.influence.u for t in quantity.terms)))


class _Predictions:
    """What springs of these sizes show at any strain, worked out on a line of strains once each.

    Args:
        values: bore, arbor, thickness and length in mm; the height where it is known.
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
            )
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


def _log_likelihood(sign: Sign, told: _Told, predicted: _Predictions, belief: FoundBelief) -> Array:
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
    own = {Sign.FREE_COILS: HUB_COILS / math.sqrt(3), Sign.LOOSE_COILS: U_LOOSE_COILS}
    least = math.hypot(own.get(sign, U_TURNS), told.u)
    if sign is Sign.TURNS:
        least = math.hypot(least, HUB_COILS / math.sqrt(3))
    u = np.hypot(least, 0.0 if sign is Sign.FREE_COILS else rest * slope)
    logs = -(((line - told.value) / u) ** 2) / 2 - np.log(u)
    return np.interp(belief.strain, predicted.line, logs)


def _regressed(
    label: str, values: Array, on: Sequence[tuple[Influence, Array]], weight: Array
) -> Quantity:
    """Return values as a quantity: what others tell of them, and the rest as its own influence.

    Args:
        label: of the quantity and of its own influence.
        values: on the grid.
        on: influences that are known already, each with its values on the grid; uncorrelated.
        weight: of the grid.
    """
    import numpy as np

    total = weight.sum()
    rest, terms = values, []
    for influence, others in on:
        off = others - (weight * others).sum() / total
        variance = (weight * off * off).sum() / total
        slope = float((weight * off * rest).sum() / total / variance) if variance > 0 else 0.0
        rest = rest - slope * off
        terms.append(Term(influence=influence, factor=slope))
    mean, own = tabulated(label, np.asarray(rest), weight)
    return Quantity(label=label, value=mean, terms=(*terms, Term(influence=own)))


def _spread(values: Array, weight: Array) -> float:
    total = weight.sum()
    mean = (weight * values).sum() / total
    return float(math.sqrt((weight * (values - mean) ** 2).sum() / total) / mean)


def _quantile(values: Array, weight: Array, probability: float) -> float:
    import numpy as np

    order = np.argsort(values)
    share = np.cumsum(weight[order])
    return float(np.interp(probability * share[-1], share, values[order]))
