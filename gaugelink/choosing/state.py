"""What a choice starts from: barrel and reference as best values, their covariance, draws."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from gaugelink.choosing.springs import Grade
from gaugelink.errors import InputError
from gaugelink.mechanics.arrangement import Asked, refuse_uncovered
from gaugelink.sizing import rules
from gaugelink.sizing.inputs import STOPS_AT, SizingInputs, quantities
from gaugelink.sizing.measurement_model import MPA_PER_GPA, available_height
from gaugelink.sizing.order import room_of
from gaugelink.uncertainty.estimate import Influence, Model, Quantity, Term
from gaugelink.uncertainty.first_order import LinearOutput, propagate
from gaugelink.uncertainty.monte_carlo import draw_blocks

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.uncertainty.estimate import Array
_BARREL = (
    *("bore", "arbor", "depth", "lid", "recess", "clearance"),
    *("full_wind_stress", "coils_off", "stops_at", "slip_loss"),
)
_SIZES = ("thickness", "height", "length")
_FOUND_STRENGTH = ("modulus", "strain", "healthy_stress", "strength_kept")
# How far the strength of strip lies above its median, in standard uncertainties of its logarithm,
# for all materials but the one that the barrel's springs are of.
OTHER_STRIP = "strength of other strip"
# What nobody can measure better at the bench.
UNSEEN = (
    *("full_wind_stress", "coils_off", "stops_at", OTHER_STRIP),
    *(f"found.{which}" for which in _FOUND_STRENGTH),
)
_BLOCK = 1024  # draws at a time: those of two dozen springs stay in the cache of the processor


@dataclass(frozen=True, slots=True, kw_only=True)
class BarrelState:
    """One barrel with the spring it should have, or as many as there are draws; in mm.

    Args:
        bore_mm: inside diameter.
        arbor_mm: diameter of the hub.
        limit_mm: height that a spring may have; None where nothing is known of it.
        thickness_mm: thickness of the reference.
        height_mm: height of the reference; None where it has none of its own, as a rule.
        length_mm: length of the reference.
        stress_mpa: full-wind stress of new springs of the material that the barrel's are of.
        reference_mpa: that of the reference, which is healthy.
        other: by how many standard uncertainties other strip is stronger than its median.
        coils_off: what hub and hook make of the count of coils, -1 to 1.
        stops_at: part of the torque of the reference at which the watch stops.
        slip_loss: part of the torque at full wind that a bridle loses before it holds; 0 where
            the watch is wound by hand.
    """

    bore_mm: Number
    arbor_mm: Number
    limit_mm: Number | None
    thickness_mm: Number
    height_mm: Number | None
    length_mm: Number
    stress_mpa: Number
    reference_mpa: Number
    other: Number
    coils_off: Number
    stops_at: Number
    slip_loss: Number


FIELDS = tuple(each.name for each in fields(BarrelState))


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownState:
    """The best values of a state, and the covariance of its fields in their order.

    ``limit_dof`` are the effective degrees of freedom of the limit. ``limit_from_depth`` is
    false where the height of the reference had to stand in for a depth that was not measured.
    """

    best: BarrelState
    covariance: Array
    limit_dof: float
    reference: ReferenceKind
    limit_from_depth: bool

    def u(self, name: str) -> float:
        """Return the standard uncertainty of a field; 0 where it is not known at all."""
        position = FIELDS.index(name)
        return math.sqrt(float(self.covariance[position, position]))


def input_quantities(inputs: ChoosingInputs) -> tuple[Quantity, ...]:
    """Return what all springs share: the inputs that matter here, and the strength of strip.

    The found spring matters as that which a new one takes the place of.
    """
    springs = {str(reference_of(inputs))}
    if inputs.barrel.found is not None:
        springs.add(ReferenceKind.FOUND)
    wanted = {*_BARREL, *(f"{spring}.{size}" for spring in springs for size in _SIZES)}
    if ReferenceKind.FOUND in springs:
        wanted |= {f"found.{which}" for which in _FOUND_STRENGTH}
    measured = (each for each in quantities(inputs.barrel) if each.label in wanted)
    other = Influence(label=OTHER_STRIP, kind="B", u=1.0)
    return (
        *measured,
        Quantity(label=OTHER_STRIP, value=0.0, unit="1", terms=(Term(influence=other),)),
    )


def known_state(inputs: ChoosingInputs) -> KnownState:
    """Compute the state of a barrel to first order.

    Raises:
        SizingError: an output has no value near the best values of the inputs.
    """
    lines = propagate(state_model(inputs), input_quantities(inputs))
    by_label = {line.label: line for line in lines}
    return KnownState(
        best=state_of({line.label: line.value for line in lines}),
        covariance=_covariance([by_label.get(name) for name in FIELDS]),
        limit_dof=by_label["limit_mm"].dof if "limit_mm" in by_label else math.inf,
        reference=reference_of(inputs),
        limit_from_depth=inputs.barrel.has_height,
    )


def state_model(inputs: ChoosingInputs) -> Model:
    """Build the model from the values of the inputs to the fields of a state, by name."""
    name, barrel = reference_of(inputs), inputs.barrel

    def model(values: Mapping[str, Any]) -> dict[str, Any]:
        bore, arbor = values["bore"], values["arbor"]
        thickness = values.get(f"{name}.thickness", rules.thickness_by_ratio(bore))
        half_area = rules.half_area_length(bore, arbor, thickness)
        height = values.get(f"{name}.height")
        limit = _limit(barrel, values, height)
        known = {"limit_mm": limit, "height_mm": height}
        return {
            "bore_mm": bore,
            "arbor_mm": arbor,
            "thickness_mm": thickness,
            "length_mm": values.get(f"{name}.length", half_area),
            "stress_mpa": values["full_wind_stress"],
            "reference_mpa": _reference_mpa(name, values),
            "other": values[OTHER_STRIP],
            "coils_off": values["coils_off"],
            "stops_at": values.get("stops_at", STOPS_AT.middle),
            "slip_loss": values.get("slip_loss", 0.0),
            **{name: value for name, value in known.items() if value is not None},
        }

    return model


def _limit(barrel: SizingInputs, values: Mapping[str, Any], height: Any | None) -> Any | None:
    """Height in mm that leaves the usual play, or that of a document that goes in with less.

    Without depth and lid the reference's, the found spring's, or what the depth alone allows.
    """
    if barrel.has_height:
        return available_height(barrel.depth_reference, values) + _less_play(barrel)
    if height is not None:
        return height
    if barrel.found is not None and barrel.found.height is not None:
        return barrel.found.height.value
    return values["depth"] - values["clearance"] if "depth" in values else None


def _less_play(barrel: SizingInputs) -> float:
    """By how much less than the usual play a document leaves that goes in for certain, in mm."""
    documented, room = barrel.documented, room_of(barrel)
    if documented is None or documented.height is None or room is None:
        return 0.0
    height = documented.height.value
    available = room.value_mm - barrel.clearance.value
    return max(height - available, 0.0) if height <= room.certain_mm else 0.0


def _reference_mpa(name: ReferenceKind, values: Mapping[str, Any]) -> Any:
    """A found spring is the reference only where it is healthy: it kept all of its strength."""
    return healthy_mpa(values) if name is ReferenceKind.FOUND else values["full_wind_stress"]


def healthy_mpa(values: Mapping[str, Any]) -> Any:
    """Compute the full-wind stress in MPa of a found spring that is said to be healthy."""
    return values["found.healthy_stress"] if "found.healthy_stress" in values else found_mpa(values)


def found_mpa(values: Mapping[str, Any]) -> Any:
    """Compute the full-wind stress of the found spring in MPa, healthy or tired."""
    if "found.strain" in values:
        return MPA_PER_GPA * values["found.modulus"] * values["found.strain"]
    return values["found.healthy_stress"] * values["found.strength_kept"]


def state_of(values: Mapping[str, Any]) -> BarrelState:
    """Return the state that a model gave."""
    known: dict[str, Any] = {name: values.get(name) for name in FIELDS}
    return BarrelState(**known)


def drawn_values(
    inputs: ChoosingInputs, own: tuple[Quantity, ...], *, draws: int, seed: int
) -> Iterator[dict[str, Number]]:
    """Yield blocks of joint draws of the inputs and of what each spring has of its own.

    Raises:
        InputError: draws or seed is out of range.
    """
    import numpy as np

    for block in draw_blocks((*input_quantities(inputs), *own), draws=draws, seed=seed):
        for start in range(0, len(np.asarray(block[OTHER_STRIP])), _BLOCK):
            some = slice(start, start + _BLOCK)
            yield {n: np.asarray(v)[some] if np.ndim(v) else v for n, v in block.items()}


def _covariance(lines: list[LinearOutput | None]) -> Array:
    """Return C = S S^T, S by how much each influence moves each field; zero for a None."""
    import numpy as np

    n = max(len(line.rows) for line in lines if line is not None)
    still = [0.0] * n
    spread = np.array(
        [[row.sensitivity * row.u for row in line.rows] if line else still for line in lines]
    )
    covariance: Array = spread @ spread.T
    return covariance


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoosingInputs:
    """What is known of the barrel and of the strip that springs are made of.

    Args:
        barrel: the barrel, the springs known of, the watch around it; with those wishes
            only that a rule covers, see ``sizing.covered``.
        strip: how closely strip is rolled where the stock does not state tolerances.
    """

    barrel: SizingInputs
    strip: Grade = Grade.WATCH


class ReferenceKind(StrEnum):
    """What the torque of a spring is compared with."""

    DOCUMENTED = "documented"
    FOUND = "found"
    RULE = "rule"


REFERENCE_TEXT = {
    ReferenceKind.DOCUMENTED: "the documented spring",
    ReferenceKind.FOUND: "the found spring, taken as healthy",
    ReferenceKind.RULE: "the half-area rule",
}


def reference_of(inputs: ChoosingInputs) -> ReferenceKind:
    """Return what to compare with: a document, a healthy found spring, a rule, in that order.

    Raises:
        InputError: the found spring is said to be healthy and its thickness is not known.
        SizingError: only the rule is left, and it does not hold for this kind of barrel.
    """
    barrel = inputs.barrel
    if barrel.documented is not None:
        return ReferenceKind.DOCUMENTED
    if barrel.found is not None and barrel.found_healthy:
        return ReferenceKind.FOUND
    if barrel.found_healthy:
        raise InputError(
            "The found spring is said to be healthy, but its thickness is not known.",
            hint="Measure it, or give --found-thickness and if possible height and length.",
        )
    refuse_uncovered(barrel.arrangement, Asked.SIZE)
    return ReferenceKind.RULE
