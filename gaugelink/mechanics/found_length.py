"""The length of a spring that nobody uncoils, from what can be seen and weighed of it.

There is one plain equation for each way to the length, on floats and arrays alike; mass in
mg, density in g/cm^3, which is mg/mm^3. The ways are weighed together with what they have in
common: mass, band and winder all divide by the thickness, so that a micrometer that reads
high shortens them alike, and a plain weighted mean would count that error as if it averaged
out. Generalised least squares does not. With C the covariance of the logarithms of the
lengths the weights are::

    w = C^-1 1 / (1^T C^-1 1),    ln L = w^T ln L_i

A. C. Aitken, Proc. R. Soc. Edinburgh 55 (1935) 42 (from memory). Logarithms, because the
errors are factors: a thickness 1 % too high makes every one of these lengths 1 % too
short, whatever it is. Taken in mm, two lengths that differ by chance would seem to
respond differently to that error, and the difference be read as news of it.

The result is an input quantity like any other: it holds the influences it came from, each
with its sensitivity, so that the fill worked out from this length and the same thickness
is right as well.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Any, NamedTuple

from gaugelink.errors import SizingError
from gaugelink.mechanics.band import SourcedBand, assumed
from gaugelink.model import Advice
from gaugelink.uncertainty.estimate import Model, Quantity, Term, independent_influences
from gaugelink.uncertainty.first_order import LinearOutput, propagate

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.uncertainty.estimate import Array


class MethodLength(NamedTuple):
    """The length in mm by one method, its standard uncertainty, and its weight in the whole."""

    method: Method
    value_mm: float
    u_mm: float
    weight: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundLength:
    """A length from all the clues.

    ``length`` is the input quantity in mm, ``u_mm`` its standard uncertainty. ``chi_squared``
    says how far the methods are apart for what they are uncertain, with one degree of
    freedom less than there are methods; infinity where nothing uncertain explains it.
    """

    length: Quantity
    u_mm: float
    methods: tuple[MethodLength, ...]
    chi_squared: float
    advice: tuple[Advice, ...]


# Upper 5 % points of chi squared by degrees of freedom: NIST/SEMATECH e-Handbook, 1.3.6.7.4.
_CHI_SQUARED_95 = {1: 3.841, 2: 5.991, 3: 7.815, 4: 9.488}
_ROUNDING = 1e-9


def find_length(clues: LengthClues, *, label: str = "found.length") -> FoundLength:
    """Compute the length in mm from all the clues, by generalised least squares.

    Args:
        clues: what was measured; quantities from one gauge share its influences.
        label: label of the quantity that comes out.

    Raises:
        SizingError: the clues suffice for no method, or a size among them is not possible.
        ValueError: labels of influences clash.
    """
    methods = methods_for(clues)
    if not methods:
        raise SizingError(
            "Nothing that was measured gives the length of the spring.",
            inputs=("length",),
            hint="Weigh the spring and name its alloy, or count its coils on the barrel wall.",
        )
    quantities = quantities_for(clues, methods)
    lines = propagate(length_model(methods), quantities)
    _check(lines)
    spread = _spread(lines)
    weights = _weights(spread @ spread.T)
    return _found(quantities, lines, weights, spread, label)


def _check(lines: Sequence[LinearOutput]) -> None:
    for line in lines:
        if line.value <= 0:
            raise SizingError(
                f"By the {line.label} the spring would be {line.value:.0f} mm long.",
                inputs=(line.label,),
                hint="Check the diameters and the count against one another.",
            )


def _spread(lines: Sequence[LinearOutput]) -> Array:
    """Return, by method and influence, by what part the length moves: C is S S^T."""
    import numpy as np

    return np.array([[r.sensitivity * r.u / line.value for r in line.rows] for line in lines])


def _weights(covariance: Array) -> Array:
    """Return the w that makes w^T C w least with a sum of 1.

    Solved with its multiplier and in the sense of least squares: the C of methods that
    have every error in common has no inverse, and their weights are then shared evenly.
    """
    import numpy as np

    n = len(covariance)
    system = np.ones((n + 1, n + 1))
    system[:n, :n] = covariance / (np.max(covariance) or 1.0)
    system[n, n] = 0.0
    weights: Array = np.linalg.lstsq(system, np.append(np.zeros(n), 1.0), rcond=1e-12)[0][:n]
    return weights


def _chi_squared(spread: Array, away: Array) -> float:
    """Return the sum of squares, in standard uncertainties, of the least errors that explain it.

    a^T C^-1 a, and infinity where no error of the inputs can set the methods so far apart.
    """
    import numpy as np

    errors = np.linalg.lstsq(spread, away, rcond=_ROUNDING)[0]
    explained = np.allclose(spread @ errors, away, rtol=0.0, atol=_ROUNDING)
    return float(errors @ errors) if explained else math.inf


def _found(
    quantities: Sequence[Quantity],
    lines: Sequence[LinearOutput],
    weights: Array,
    spread: Array,
    label: str,
) -> FoundLength:
    import numpy as np

    logs = np.log([line.value for line in lines])
    best = float(weights @ logs)
    value, moves = math.exp(best), weights @ spread
    chi_squared = _chi_squared(spread, logs - best)
    terms = tuple(
        Term(influence=influence, factor=value * move / influence.u)
        for influence, move in zip(independent_influences(quantities), moves.tolist(), strict=True)
    )
    return FoundLength(
        length=Quantity(label=label, value=value, terms=terms),
        u_mm=value * float(np.linalg.norm(moves)),
        methods=tuple(
            MethodLength(method=Method(line.label), value_mm=line.value, u_mm=line.u, weight=w)
            for line, w in zip(lines, weights.tolist(), strict=True)
        ),
        chi_squared=chi_squared,
        advice=_advice(lines, chi_squared),
    )


def _advice(lines: Sequence[LinearOutput], chi_squared: float) -> tuple[Advice, ...]:
    if len(lines) < 2 or chi_squared <= _CHI_SQUARED_95[len(lines) - 1]:
        return ()
    shown = ", ".join(f"{line.label} {line.value:.0f} mm" for line in lines)
    return (
        Advice(
            code="lengths-disagree",
            text=f"The ways to the length are further apart than their uncertainties allow "
            f"({shown}): is the alloy the right one, a piece broken off, a coil miscounted, "
            "the thickness read over oil?",
        ),
    )


def length_from_mass(
    mass_mg: Number, density_g_cm3: Number, height_mm: Number, thickness_mm: Number
) -> Number:
    """Compute the length in mm from the mass of the bare spring: L = m / (rho h e).

    A bridle or a brace adds to the mass and must be weighed out.
    """
    return mass_mg / (density_g_cm3 * height_mm * thickness_mm)


def length_from_band(
    bore_mm: Number, band_inside_mm: Number, thickness_mm: Number, packing: Number
) -> Number:
    """Compute the length in mm from the clear diameter inside the coils on the wall.

    L = pi (D^2 - d_i^2) / (4 q e): the band's area over the thickness.
    """
    return math.pi * (bore_mm**2 - band_inside_mm**2) / (4 * packing * thickness_mm)


def length_from_coils(bore_mm: Number, coils: Number, thickness_mm: Number) -> Number:
    """Compute the length in mm from the number of coils on the wall.

    L = pi n (D - n e): coils times mean circumference, exact for rings.
    """
    return math.pi * coils * (bore_mm - coils * thickness_mm)


def length_from_winder(
    core_mm: Number, wound_outside_mm: Number, thickness_mm: Number, packing: Number
) -> Number:
    """Compute the length in mm from the outside diameter of the coils on a winder's core.

    L = pi (D_o^2 - a^2) / (4 q e), with a the diameter of the core.
    """
    return math.pi * (wound_outside_mm**2 - core_mm**2) / (4 * packing * thickness_mm)


def length_from_winder_coils(core_mm: Number, coils: Number, thickness_mm: Number) -> Number:
    """Compute the length in mm from the number of coils on a winder's core.

    L = pi n (a + n e), exact for rings.
    """
    return math.pi * coils * (core_mm + coils * thickness_mm)


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
    Method.MASS: (length_from_mass, ("mass", "density", "height", "thickness")),
    Method.BAND: (length_from_band, ("bore", "band_inside", "thickness", "packing")),
    Method.COILS: (length_from_coils, ("bore", "coils", "thickness")),
    Method.WINDER: (length_from_winder, ("core", "wound_outside", "thickness", "packing")),
    Method.WINDER_COILS: (length_from_winder_coils, ("core", "core_coils", "thickness")),
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
