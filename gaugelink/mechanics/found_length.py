"""Several ways to one length, weighed together with what they have in common.

Mass, band and winder all divide by the thickness, so that a micrometer that reads high
shortens them alike: a plain weighted mean would count that error as if it averaged out.
Generalised least squares does not. With C the covariance of the logarithms of the lengths
the weights are::

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
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gaugelink.errors import SizingError
from gaugelink.mechanics.clues import (
    LengthClues,
    Method,
    length_model,
    methods_for,
    quantities_for,
)
from gaugelink.model import Advice
from gaugelink.uncertainty.estimate import Quantity, Term, independent_influences
from gaugelink.uncertainty.first_order import LinearOutput, propagate

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class MethodLength:
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
