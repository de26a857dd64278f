"""What the sizing needs to know: the barrel, the springs at hand, and what is wanted.

Everything but the bore may be missing. An arbor that was not measured is taken as a
third of the bore; a depth that was not measured leaves the height out. A length of the
found spring that nobody uncoiled follows from what was weighed, counted and measured of it.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING

from gaugelink.errors import SizingError
from gaugelink.mechanics.arrangement import Arrangement, Winding
from gaugelink.mechanics.band import SourcedBand, assumed
from gaugelink.mechanics.materials import OPEN, Material, material_named
from gaugelink.mechanics.signs import FoundSeen, FoundSizes
from gaugelink.mechanics.strength import FoundBelief, found_strength_unseen, new_strength
from gaugelink.model import DepthReference
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term, quantity_from_typed

if TYPE_CHECKING:
    from gaugelink.mechanics.found_length import FoundLength
    from gaugelink.mechanics.motion import MeasuredAmplitude
    from gaugelink.mechanics.train import Train

# Standard uncertainties of a value typed without one, in its unit: common practice with a
# caliper (barrel, arbor: a snail-shaped hub reads anything between its two sizes; coils
# give way), a micrometer (lid, spring), a balance that shows mg, and a quarter of a coil.
DEFAULT_U = {
    "bore": 0.02,
    "depth": 0.02,
    "lid": 0.01,
    "recess": 0.02,
    "arbor": 0.04,
    "found.thickness": 0.0025,
    "found.height": 0.015,
    "found.mass": 1.0,
    "found.coils": 0.25,
    "found.core_coils": 0.25,
    "found.band_inside": 0.05,
    "found.core": 0.02,
    "found.wound_outside": 0.05,
    "found.free_diameter": 0.5,
    "found.free_coils": 0.25,
    "found.crown_turns": 0.5,
    "found.weight_radius": 0.1,
    **dict.fromkeys(("fusee_small", "fusee_middle", "fusee_large", "barrel_outside"), 0.1),
    **dict.fromkeys(("fusee_turns", "fusee_set_up"), 0.1),
}
# A length is taken from mass, coil count or a thread laid along the coils: common practice.
DEFAULT_U_OF_LENGTH = 0.02
DEFAULT_U_OF_WEIGHT = 0.03  # where the barrel begins to creep either way: judgement
ARBOR_PER_BORE = 1 / 3
# An arbor never seen is taken to lie within 10 % of that, anywhere alike: common practice.
ASSUMED_ARBOR_SPREAD = 0.10
# Play that a spring usually has below the lid, by the room there: 0.05 to 0.08 mm in small
# ladies' movements (from memory), else 0.10, H. Jendritzki, "Die Zugfeder", Schweizerische
# Uhrmacher-Zeitung 12/1950, p. 49.
USUAL_PLAY_MM = ((0.8, 0.05), (1.1, 0.08), (math.inf, 0.10))
CLEARANCE = Quantity(label="clearance", value=0.10)
ORDER = "order"  # label of the size to order
# An outer end takes anything between the least and the most of its band, 0 and 1 of the way.
END_ROOM = SourcedBand(low=0.0, high=1.0, source="the bands of the end")
# Hub, hook and eye make the count of coils more or less than that of a true spiral, by up to
# what a spiral counts less than rings. Judgement.
COILS_OFF = SourcedBand(low=-1.0, high=1.0, source="judgement")
# Torque at which the watch stops, over that of a healthy spring half a turn after full wind. A
# balance that swings 290 degrees then and is no longer unlocked below some 110 asks for 0.14 to
# 0.23 by the amplitude law, a worn or dirty movement for more. Judgement.
STOPS_AT = SourcedBand(low=0.15, high=0.40, source="judgement")
# The part of the torque at full wind that is lost where a bridle slips. No figure was found in
# print; its leaf is some 20 % thicker than the strip, so that it holds much of it. Judgement.
SLIP_LOSS = SourcedBand(low=0.0, high=0.15, source="judgement")
# How far a cone of which both ends are known is hollowed from the straight one. Judgement.
FUSEE_HOLLOW = SourcedBand(low=0.0, high=1.0, source="judgement")


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenCone:
    """The cone of a fusee: diameters over the middle of the chain in mm, and turns.

    ``turns`` of chain lie on it, ``set_up`` are left on the spring when they are off.
    """

    small: Quantity
    large: Quantity
    turns: Quantity
    set_up: Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenFusee:
    """A fusee and its barrel: diameters over the middle of the chain, mm.

    ``middle`` is that of the cone where half of the turns lie, None where nobody measured it;
    ``hours_per_turn`` are those of the fusee, in h.
    """

    cone: GivenCone
    barrel_outside: Quantity
    middle: Quantity | None = None
    hours_per_turn: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenSpring:
    """A spring that exists or is written down; lengths in mm."""

    thickness: Quantity
    height: Quantity | None = None
    length: Quantity | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SizingInputs:
    """The measured barrel, the springs to compare, and what is wanted.

    Args:
        bore: inside diameter of the barrel, mm.
        depth: floor to ``depth_reference``, mm.
        lid: lid thickness at its edge, mm; needed when the depth goes to the rim.
        recess: hollow turned into the inside of the lid, mm; None for a flat lid.
        arbor: diameter of the hub, mm; None takes a third of the bore.
        depth_reference: rim of the barrel, or seat of the lid.
        clearance: play to leave above the spring, mm.
        found: the spring that was in the barrel.
        found_healthy: whether that is the right one and in good condition, so that a new one
            should do the same.
        documented: the size that a document gives for this watch.
        hours_per_turn: hours of running per barrel turn, in h.
        wanted_turns: development turns asked for.
        material: what new springs are made of, or the spread over what they may be.
        found_material: what the found one is of; None takes it to be of the same.
        arrangement: how barrel, winding, stopwork and outer end are made.
        length_includes_end: whether the lengths of given springs count what their outer
            end takes; matters only where the end is known.
        train: from the barrel, or from the wheel on its arbor where ``train_from_arbor``;
            gives the hours per turn where they are not stated.
        train_from_arbor: whether the first wheel of the train sits on the barrel arbor.
        last_turn_h: hours in which the last pinion of the train turns once.
        winding_train: from the ratchet wheel back to the winding pinion.
        amplitude: amplitude measured with the found spring.
        wished_amplitude_deg: amplitude wished for, in the same state.
        found_length: how the length of the found spring was come by without uncoiling it.
        seen: condition of the found spring.
        accepted: names of the stops that somebody settled, see ``stops``.
        order: the size to order, whose figures are worked out with the rest.
        fusee: the cone of a fusee with its chain.
    """

    bore: Quantity
    depth: Quantity | None = None
    lid: Quantity | None = None
    recess: Quantity | None = None
    arbor: Quantity | None = None
    depth_reference: DepthReference = DepthReference.RIM
    clearance: Quantity = CLEARANCE
    found: GivenSpring | None = None
    found_healthy: bool = False
    documented: GivenSpring | None = None
    hours_per_turn: float | None = None
    wanted_turns: float | None = None
    material: Material = field(default_factory=lambda: material_named(OPEN))
    found_material: Material | None = None
    arrangement: Arrangement = field(default_factory=Arrangement)
    length_includes_end: bool = True
    train: Train | None = None
    train_from_arbor: bool = False
    last_turn_h: float = 1.0
    winding_train: Train | None = None
    amplitude: MeasuredAmplitude | None = None
    wished_amplitude_deg: float | None = None
    found_length: FoundLength | None = None
    seen: FoundSeen | None = None
    accepted: frozenset[str] = frozenset()
    order: GivenSpring | None = None
    fusee: GivenFusee | None = None

    @property
    def material_of_found(self) -> Material:
        """What the found spring is made of."""
        return self.found_material or self.material

    @property
    def has_height(self) -> bool:
        """Whether enough is known for the available height."""
        if self.depth is None:
            return False
        return self.depth_reference == DepthReference.SEAT or self.lid is not None


def typed_input(label: str, value: float, u: float | None = None, unit: str = "mm") -> Quantity:
    """Make an input quantity of a typed value, with a default uncertainty if none is given.

    A documented size and the clearance are nominal and stay exact unless ``u`` is
    given; ``DEFAULT_U`` and ``DEFAULT_U_OF_LENGTH`` hold the rest.

    Args:
        label: "bore", "arbor", "found.thickness", "found.mass", "documented.length" and so on.
        value: the value in ``unit``.
        u: its standard uncertainty in ``unit``, or None.
        unit: "mm", "mg", "g", or "1" for a count.

    Raises:
        InputError: the value is not finite, or ``u`` is negative or not finite.
    """
    return quantity_from_typed(label, value, _default_u(label, value) if u is None else u, unit)


def usual_play(room_mm: float) -> Quantity:
    """Return the play to leave in mm that is usual where a spring has so much room."""
    play = next(play for below, play in USUAL_PLAY_MM if room_mm < below)
    return Quantity(label="clearance", value=play)


def assumed_arbor(bore: Quantity) -> Quantity:
    """Take the arbor diameter, in mm, as a third of the bore: common practice.

    It follows the bore, whose influences it shares, and is further off by up to 10 %
    either way, a rectangular distribution.
    """
    value = bore.value * ARBOR_PER_BORE
    guess = Influence(
        label="arbor assumed",
        kind="B",
        u=ASSUMED_ARBOR_SPREAD * value / math.sqrt(3),
        shape=Shape.RECTANGULAR,
    )
    shared = (replace(term, factor=term.factor * ARBOR_PER_BORE) for term in bore.terms)
    return Quantity(label="arbor", value=value, terms=(*shared, Term(influence=guess)))


def with_found_length(inputs: SizingInputs, clues: Mapping[str, Quantity]) -> SizingInputs:
    """Work out the length of the found spring, in mm, from clues by their name.

    The bore, thickness and height are those of the inputs, whose influences the length
    comes to share; the density is that of the material, or the spread over what it may be.
    A length that is known already stays, and the one from the clues is beside it.

    Args:
        inputs: what else is known.
        clues: fields of ``mechanics.LengthClues``; nothing is done when there are none.

    Raises:
        SizingError: no thickness is known, the clues suffice for no method, or a size
            among them is not possible.
    """
    if not clues:
        return inputs
    if inputs.found is None:
        raise SizingError(
            "The length of the found spring does not follow without its thickness.",
            inputs=("found.thickness",),
            hint="Measure its thickness, or give --found-thickness.",
        )
    from gaugelink.mechanics.found_length import LengthClues, find_length

    found = find_length(
        LengthClues(
            thickness=inputs.found.thickness,
            height=inputs.found.height,
            bore=inputs.bore,
            density=assumed("density", inputs.material_of_found.density_g_cm3, "g/cm^3"),
            **clues,
        )
    )
    known = inputs.found if inputs.found.length else replace(inputs.found, length=found.length)
    return replace(inputs, found=known, found_length=found)


def given_spring(name: str, quantities: Mapping[str, Quantity]) -> GivenSpring | None:
    """Return the spring whose sizes stand in ``quantities`` as ``name_thickness`` and so on.

    Raises:
        SizingError: a height or length without a thickness.
    """
    parts = {
        size: quantities[f"{name}_{size}"]
        for size in ("height", "thickness", "length")
        if f"{name}_{size}" in quantities
    }
    if not parts:
        return None
    if "thickness" not in parts:
        raise SizingError(
            f"The {name} spring has no thickness.",
            inputs=(f"{name}.thickness",),
            hint=f"Give --{name}-thickness, or leave its other sizes out.",
        )
    return GivenSpring(
        thickness=parts["thickness"], height=parts.get("height"), length=parts.get("length")
    )


def quantities(inputs: SizingInputs) -> tuple[Quantity, ...]:
    """Return the known inputs as the quantities of the model, under its labels."""
    arbor = inputs.arbor or assumed_arbor(inputs.bore)
    named = {
        "bore": inputs.bore,
        "arbor": arbor,
        "depth": inputs.depth,
        "lid": inputs.lid,
        "recess": inputs.recess,
        "clearance": inputs.clearance,
        **dict(_spring_quantities("found", inputs.found)),
        **dict(_spring_quantities("documented", inputs.documented)),
        "found.free_diameter": inputs.seen.free_diameter if inputs.seen else None,
        **_fusee_quantities(inputs.fusee),
        **_assumptions(inputs),
    }
    return tuple(replace(q, label=label) for label, q in named.items() if q is not None)


def _fusee_quantities(fusee: GivenFusee | None) -> dict[str, Quantity]:
    if fusee is None:
        return {}
    hollow = {"fusee_hollow": assumed("hollow of the fusee", FUSEE_HOLLOW, "1")}
    return {
        **{f"fusee_{each.name}": getattr(fusee.cone, each.name) for each in fields(fusee.cone)},
        "barrel_outside": fusee.barrel_outside,
        **(hollow if fusee.middle is None else {"fusee_middle": fusee.middle}),
    }


def _assumptions(inputs: SizingInputs) -> dict[str, Quantity]:
    """What judgement or a table says of material, end, coils and train."""
    known = {
        **strength_quantities(inputs),
        "coils_off": _coils_off(),
    }
    if inputs.hours_per_turn is not None:
        known["stops_at"] = assumed("torque at which the watch stops", STOPS_AT, "1")
    if inputs.arrangement.end is not None:
        known["end_room"] = assumed("room of the end", END_ROOM, "1")
    if inputs.arrangement.winding is Winding.AUTOMATIC:
        known["slip_loss"] = assumed("torque lost where the bridle slips", SLIP_LOSS, "1")
    return known


def _coils_off() -> Quantity:
    return assumed("coils at hub and hook", COILS_OFF, "1")


@functools.lru_cache(maxsize=8)
def strength_quantities(inputs: SizingInputs) -> dict[str, Quantity]:
    """Return how strong the springs are, as ``mechanics.strength`` labels it.

    A document and the rules stand for new springs; the found one has a strength of its own.
    """
    new = new_strength(inputs.material)
    if inputs.found is None:
        return new
    belief = found_belief(inputs)
    if belief is not None and belief.signs:
        return {**new, **belief.quantities(new)}
    unseen = found_strength_unseen(inputs.material_of_found, inputs.found.thickness, inputs.seen)
    return {**new, **unseen}


@functools.lru_cache(maxsize=8)
def found_belief(inputs: SizingInputs) -> FoundBelief | None:
    """Return what may be of the found spring; None where its thickness or length is not known."""
    found = inputs.found
    if found is None or found.length is None:
        return None
    winding = inputs.winding_train
    sizes = FoundSizes(
        bore=inputs.bore,
        arbor=inputs.arbor or assumed_arbor(inputs.bore),
        thickness=found.thickness,
        length=found.length,
        height=found.height,
        coils_off=_coils_off(),
        crown_ratio=None if winding is None else winding.ratio,
    )
    return FoundBelief(inputs.material_of_found, sizes, inputs.seen)


def _spring_quantities(
    name: str, spring: GivenSpring | None
) -> Iterator[tuple[str, Quantity | None]]:
    if spring is not None:
        yield f"{name}.thickness", spring.thickness
        yield f"{name}.height", spring.height
        yield f"{name}.length", spring.length


def _default_u(label: str, value: float) -> float:
    if label == "found.weight":
        return DEFAULT_U_OF_WEIGHT * abs(value)
    if label == "found.length":
        return DEFAULT_U_OF_LENGTH * abs(value)
    return DEFAULT_U.get(label, 0.0)
