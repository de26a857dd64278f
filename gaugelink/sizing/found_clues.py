"""The length of the found spring from what was weighed, counted and measured of it coiled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from gaugelink.errors import SizingError
from gaugelink.mechanics.band import assumed
from gaugelink.mechanics.found_length import LengthClues, find_length
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.uncertainty.estimate import Quantity
from gaugelink.uncertainty.measurand import quantity_from_typed

# Unit and, where none is typed, the standard uncertainty: a balance that shows mg, a
# quarter of a coil, a caliper on coils that give way. Common practice.
_UNITS = {"mass": "mg", "coils": "1", "core_coils": "1"}
DEFAULT_U = {
    "mass": 1.0,
    "coils": 0.25,
    "core_coils": 0.25,
    "band_inside": 0.05,
    "core": 0.02,
    "wound_outside": 0.05,
    "free_diameter": 0.5,
}


def typed_clue(name: str, value: float, u: float | None = None) -> Quantity:
    """Make a quantity of a typed clue, with a default uncertainty if none is given.

    Args:
        name: a field of ``mechanics.LengthClues``, or "free_diameter".
        value: in mm, mg or as a count.
        u: its standard uncertainty in the same unit, or None.

    Raises:
        InputError: the value is not finite, or ``u`` is negative or not finite.
    """
    u = DEFAULT_U[name] if u is None else u
    return quantity_from_typed(f"found.{name}", value, u, _UNITS.get(name, "mm"))


def with_found_length(inputs: SizingInputs, clues: Mapping[str, Quantity]) -> SizingInputs:
    """Work out the length of the found spring, in mm, from clues by their name.

    The bore, thickness and height are those of the inputs, whose influences the length
    comes to share; the density is that of the material, or the spread over what it may be.
    A length that is known already stays, and the one from the clues stands beside it.

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
    found = find_length(
        LengthClues(
            thickness=inputs.found.thickness,
            height=inputs.found.height,
            bore=inputs.bore,
            density=assumed("density", inputs.material.density_g_cm3, "g/cm^3"),
            **clues,
        )
    )
    known = inputs.found if inputs.found.length else replace(inputs.found, length=found.length)
    return replace(inputs, found=known, found_length=found)
