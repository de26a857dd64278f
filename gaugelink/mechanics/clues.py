"""What can be measured of a coiled spring, and which ways to its length that opens."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

from gaugelink.errors import SizingError
from gaugelink.mechanics import length
from gaugelink.mechanics.band import SourcedBand, assumed
from gaugelink.uncertainty.estimate import Model, Quantity


class Method(StrEnum):
    """A way to the length without uncoiling the spring."""

    MASS = "mass"
    BAND = "band on the wall"
    COILS = "coils on the wall"
    WINDER = "outside in a winder"
    WINDER_COILS = "coils in a winder"


# Oil and dirt keep coils apart: the band's area over that of the strip alone.
PACKING = SourcedBand(low=1.0, high=1.05, source="from memory", from_memory=True)
CLOSE = Quantity(label="packing", value=1.0, unit="1")  # coils clean and pressed together


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthClues:
    """What was measured of a coiled spring; None where it was not. Lengths in mm.

    Args:
        thickness: thickness of the strip.
        height: height of the strip.
        bore: inside diameter of the barrel it lies in, run down.
        mass: mass of the bare spring, mg.
        density: density in g/cm^3; for an alloy that is not known, ``band.assumed`` of its
            spread.
        band_inside: clear diameter inside the coils on the wall.
        coils: number of coils on the wall.
        core: diameter of the winder's core.
        wound_outside: outside diameter of the coils on that core.
        core_coils: number of coils on that core.
        packing: how loosely the coils lie, a number; ``CLOSE`` where they touch.
    """

    thickness: Quantity
    height: Quantity | None = None
    bore: Quantity | None = None
    mass: Quantity | None = None
    density: Quantity | None = None
    band_inside: Quantity | None = None
    coils: Quantity | None = None
    core: Quantity | None = None
    wound_outside: Quantity | None = None
    core_coils: Quantity | None = None
    packing: Quantity = field(default_factory=lambda: assumed("packing", PACKING, "1"))


_EQUATIONS: dict[Method, tuple[Callable[..., Any], tuple[str, ...]]] = {
    Method.MASS: (length.length_from_mass, ("mass", "density", "height", "thickness")),
    Method.BAND: (length.length_from_band, ("bore", "band_inside", "thickness", "packing")),
    Method.COILS: (length.length_from_coils, ("bore", "coils", "thickness")),
    Method.WINDER: (length.length_from_winder, ("core", "wound_outside", "thickness", "packing")),
    Method.WINDER_COILS: (length.length_from_winder_coils, ("core", "core_coils", "thickness")),
}


def length_model(methods: Sequence[Method]) -> Model:
    """Build the model of some methods: values of ``LengthClues`` by name in, lengths out."""

    def model(values: Mapping[str, Any]) -> dict[str, Any]:
        found = {}
        for method in methods:
            equation, names = _EQUATIONS[method]
            found[method.value] = equation(*(values[name] for name in names))
        return found

    return model


def methods_for(clues: LengthClues) -> tuple[Method, ...]:
    """Return the methods for which the clues suffice."""
    return tuple(
        method
        for method, (_, names) in _EQUATIONS.items()
        if all(getattr(clues, name) is not None for name in names)
    )


def quantities_for(clues: LengthClues, methods: Sequence[Method]) -> tuple[Quantity, ...]:
    """Return the input quantities of some methods, under the names that the model knows.

    Raises:
        SizingError: one of them is not above zero.
    """
    names = dict.fromkeys(name for method in methods for name in _EQUATIONS[method][1])
    quantities = tuple(replace(getattr(clues, name), label=name) for name in names)
    for quantity in quantities:
        if not quantity.value > 0:
            name = quantity.label.replace("_", " ")
            raise SizingError(
                f"A {name} of {quantity.value:g} is not possible.",
                inputs=(quantity.label,),
                hint=f"Measure the {name} again.",
            )
    return quantities
