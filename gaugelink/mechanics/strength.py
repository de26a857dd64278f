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

import functools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gaugelink.mechanics.band import assumed
from gaugelink.mechanics.signs import (
    USUAL_U,
    FoundSeen,
    FoundSizes,
    Predictions,
    Sign,
    Told,
    log_likelihood,
    signs_of,
)
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
    from gaugelink.mechanics.materials import Material
    from gaugelink.uncertainty.estimate import Array

# All of these are judgement, but where a line says otherwise.
HEALTHY_SHARE = 0.5
LEAST_KEPT = 0.55
TIRED_BELOW = 0.9  # of its strength: what a repairer calls tired
UNEVEN_SPREAD = 0.05  # of the stress, where the thickness varies by 3 % or more
UNEVEN_FROM = 0.03
_DEVIATES, _STEPS_HEALTHY, _STEPS_MODULUS = 4.0, 101, 9
_STEPS_KEPT = 27  # of which ``TIRED_BELOW`` parts 21 from 6


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
        self.signs = dict(signs_of(seen, sizes))
        values = best_values(self._known())
        self.predictions = Predictions(values, self.strain)
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
        own = modulus.terms[-1].influence
        moved = self._moves[1:]
        uneven = (
            Term(influence=each, factor=strain) for each in _uneven(self.sizes.thickness, self.seen)
        )
        modulus = replace(modulus, unit="GPa", terms=(*modulus.terms, *moved[1]))
        known = {
            "found.strain": Quantity(
                label="found.strain",
                value=strain,
                unit="1",
                terms=(Term(influence=at_strain), *moved[0], *uneven),
            ),
            "found.modulus": modulus,
        }
        shared = f"full wind stress of {self.material.name}"
        if new["full_wind_stress"].label != shared:
            return known
        healthy = _regressed(
            "healthy stress of the found spring",
            self.healthy,
            [(at_strain, self.strain), (own, self._modulus_alone(modulus, strain))],
            self.weight,
        )
        return {
            **known,
            "modulus": modulus,
            "full_wind_stress": replace(healthy, unit="MPa", terms=(*healthy.terms, *moved[2])),
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
            u_part=self._u_part(self.weight),
            u_part_unseen=_spread(self.stress, self.prior),
            p_tired=float(self.weight[tired].sum() / self.weight.sum()),
            healthy_loose=(float(loose[0]), float(loose[1])),
            healthy_extent=(float(extent[0]), float(extent[1])),
            next=tuple(sorted(self._next(), key=lambda each: each[1])),
        )

    def _next(self) -> Iterator[tuple[Sign, float]]:
        mean = _mean(self.strain, self.weight)
        possible = [Sign.FREE_COILS, Sign.EXTENT, Sign.LOOSE_COILS]
        if self.sizes.crown_ratio is not None:
            possible.append(Sign.TURNS)
        for sign in possible:
            if sign not in self.signs:
                told = Told(self.predictions.of(sign, mean), USUAL_U[sign])
                weight = self._posterior(self.predictions, {**self.signs, sign: told})
                yield sign, self._u_part(weight)

    def _known(self) -> tuple[Quantity, ...]:
        given = self.sizes._asdict()
        named = ("bore", "arbor", "thickness", "length", "height", "coils_off")
        return tuple(replace(given[n], label=n) for n in named if given[n] is not None)

    def _posterior(self, predicted: Predictions, signs: Mapping[Sign, Told]) -> Array:
        import numpy as np

        logs = np.zeros_like(self.strain)
        for sign, told in signs.items():
            logs = logs + log_likelihood(sign, told, predicted, self)
        weight: Array = self.prior * np.exp(logs - logs.max())
        return weight

    def _u_part(self, weight: Array) -> float:
        """Uncertainty of the full-wind stress as a part of it, that of the sizes in it."""
        mean = _mean(self.stress, self.weight)
        moves = [term.factor * term.influence.u / mean for term in self._moves[0]]
        if self.signs:
            moves += [each.u for each in _uneven(self.sizes.thickness, self.seen)]
        return math.hypot(_spread(self.stress, weight), *moves)

    @functools.cached_property
    def _moves(self) -> list[list[Term]]:
        """What the sizes move stress, strain, modulus in GPa and healthy stress by."""
        means = (self.stress, self.strain, self.modulus / 1000, self.healthy)
        return self._moved_by_sizes(*means) if self.signs else [[] for _ in means]

    def _moved_by_sizes(self, *means: Array) -> list[list[Term]]:
        """What the sizes move each of some means by, per unit of each of their influences."""
        known = self._known()
        terms: list[list[Term]] = [[] for _ in means]
        for influence in independent_influences(known):
            up, down = (
                self._posterior(
                    Predictions(moved_values(known, influence, step), self.strain), self.signs
                )
                for step in (influence.u, -influence.u)
            )
            for row, values in zip(terms, means, strict=True):
                by = (values * up).sum() / up.sum() - (values * down).sum() / down.sum()
                row.append(Term(influence=influence, factor=float(by) / (2 * influence.u)))
        return terms

    def _modulus_alone(self, modulus: Quantity, strain: float) -> Array:
        """The part of the modulus in GPa that the strain does not tell."""
        told = modulus.value + modulus.terms[0].factor * (self.strain - strain)
        return self.modulus / 1000 - told


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


def _mean(values: Array, weight: Array) -> float:
    return float((weight * values).sum() / weight.sum())


def _spread(values: Array, weight: Array) -> float:
    mean = _mean(values, weight)
    return math.sqrt(_mean((values - mean) ** 2, weight)) / mean


def _quantile(values: Array, weight: Array, probability: float) -> float:
    import numpy as np

    order = np.argsort(values)
    share = np.cumsum(weight[order])
    return float(np.interp(probability * share[-1], share, values[order]))
