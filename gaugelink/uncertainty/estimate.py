"""The types of the uncertainty stage: influences, input quantities, estimates, the budget.

An input quantity is an estimate plus a sum of independent *influences*. Two
quantities measured with one gauge hold the same influence object, which is how
their correlation reaches both the first-order and the Monte Carlo route: both
work on the independent influences, never on a correlation matrix.

Knowledge other than repeated readings, a stated bound, becomes a standard uncertainty in
the same unit: type B, GUM 4.3.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

from gaugelink.errors import InputError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Array: TypeAlias = npt.NDArray[np.float64]
Kind: TypeAlias = Literal["A", "B"]
# A model takes and returns floats or arrays alike, keyed by label.
Model: TypeAlias = Callable[[Mapping[str, Any]], Mapping[str, Any]]


class Shape(StrEnum):
    """The probability distribution that represents an influence."""

    NORMAL = "normal"
    STUDENT = "t"  # scaled and shifted t, JCGM 101:2008, 6.4.9
    RECTANGULAR = "rectangular"
    TABULATED = "tabulated"  # worked out on a grid; its quantiles come with the influence


@dataclass(frozen=True, slots=True, kw_only=True)
class Influence:
    """One independent source of uncertainty, with mean zero.

    Args:
        label: unique name; equal labels are the same influence.
        kind: evaluated by statistics ("A") or otherwise ("B").
        u: standard uncertainty, for ``STUDENT`` the scale s/sqrt(n).
        shape: distribution for the Monte Carlo route.
        dof: degrees of freedom, ``math.inf`` when u is taken as known.
        quantiles: of ``TABULATED``, at evenly spaced probabilities from 0 to 1.
    """

    label: str
    kind: Kind
    u: float
    shape: Shape = Shape.NORMAL
    dof: float = math.inf
    quantiles: tuple[float, ...] = ()


def bounded(label: str, half_width: float) -> Influence:
    """Return an influence known only to lie within +-half_width: rectangular, GUM 4.3.7.

    Raises:
        InputError: the bound is negative or not finite.
    """
    u = rectangular(half_width)
    return Influence(label=label, kind="B", u=u, shape=Shape.RECTANGULAR)


_TABLE_STEPS = 400


def tabulated(label: str, values: Array, weights: Array) -> tuple[float, Influence]:
    """Return the mean of weighted values, and the influence that spreads about it as they do.

    The quantiles are a line from step to step. The outermost steps end where they have the mean of
    their values: the ends of a grid, which may bear next to no weight, would make tails.

    Args:
        label: of the influence.
        values: where the distribution lies.
        weights: of the values, none negative; in any scale.
    """
    import numpy as np

    order = np.argsort(values)
    value, weight = values[order], weights[order] / weights.sum()
    upper = np.cumsum(weight)
    lower, step = upper - weight, 1 / _TABLE_STEPS
    edges = np.column_stack((lower, upper)).ravel()
    table = np.interp(np.linspace(0.0, 1.0, _TABLE_STEPS + 1), edges, np.repeat(value, 2))
    least, most = np.clip(step - lower, 0.0, weight), np.clip(upper - (1 - step), 0.0, weight)
    table[0] = 2 * np.average(value, weights=least) - table[1]
    table[-1] = 2 * np.average(value, weights=most) - table[-2]
    mean = float((table[:-1] + table[1:]).mean()) / 2
    off = table - mean
    variance = float((off[:-1] ** 2 + off[:-1] * off[1:] + off[1:] ** 2).mean()) / 3
    quantiles = tuple(off.tolist())
    u = math.sqrt(variance)
    return mean, Influence(label=label, kind="B", u=u, shape=Shape.TABULATED, quantiles=quantiles)


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """An influence with the factor by which it enters a quantity."""

    influence: Influence
    factor: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """An input of a model: best value, unit, and the influences it is subject to."""

    label: str
    value: float
    unit: str = "mm"
    terms: tuple[Term, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A value with its standard uncertainty and a coverage interval.

    ``dof`` is ``math.inf`` for infinity; ``low`` and ``high`` are the coverage
    interval at the coverage probability the run was asked for.
    """

    label: str
    value: float
    u: float
    dof: float
    unit: str
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetRow:
    """What one influence contributes to one output.

    ``contribution`` is |sensitivity| x u in the unit of the output; ``share`` is its
    part of the output's variance, 0 to 1.
    """

    output: str
    influence: str
    kind: Kind
    u: float
    dof: float
    sensitivity: float
    contribution: float
    share: float


def quantity_from_typed(label: str, value: float, u: float, unit: str = "mm") -> Quantity:
    """Return a typed value with its stated standard uncertainty, taken as normal and known.

    Args:
        label: name of the quantity.
        value: the value, in ``unit``.
        u: standard uncertainty in ``unit``; 0 makes the value exact.
        unit: unit of both.

    Raises:
        InputError: the value is not finite, or u is negative or not finite.
    """
    if not math.isfinite(value):
        raise InputError(f"{label} is not a number.", hint="Type it in digits, such as 11.02.")
    if not (math.isfinite(u) and u >= 0.0):
        raise InputError(
            f"The standard uncertainty of {label} cannot be {u:g}.",
            hint="State it as a number that is zero or more.",
        )
    terms = (Term(influence=Influence(label=f"{label} as typed", kind="B", u=u)),) if u else ()
    return Quantity(label=label, value=value, unit=unit, terms=terms)


def independent_influences(quantities: Sequence[Quantity]) -> tuple[Influence, ...]:
    """Collect the influences of all quantities, each once, in order of appearance.

    Influences with u = 0 are left out: they move nothing.

    Raises:
        ValueError: two quantities have one label, or two different influences have one label.
    """
    if len({quantity.label for quantity in quantities}) < len(quantities):
        raise ValueError("two quantities have the same label")
    found: dict[str, Influence] = {}
    for quantity in quantities:
        for term in quantity.terms:
            known = found.setdefault(term.influence.label, term.influence)
            if known != term.influence:
                raise ValueError(f"two different influences are called {known.label!r}")
    return tuple(influence for influence in found.values() if influence.u > 0.0)


def factor_of(quantity: Quantity, influence: Influence) -> float:
    """Return the factor by which an influence enters a quantity, 0 if it does not."""
    return sum(term.factor for term in quantity.terms if term.influence.label == influence.label)


def best_values(quantities: Sequence[Quantity]) -> dict[str, float]:
    """Return the best value of each quantity by label."""
    return {quantity.label: quantity.value for quantity in quantities}


def moved_values(
    quantities: Sequence[Quantity], influence: Influence, by: float
) -> Mapping[str, float]:
    """Return the values of the quantities when one influence is ``by`` instead of zero."""
    return {
        quantity.label: quantity.value + factor_of(quantity, influence) * by
        for quantity in quantities
    }


def rectangular(half_width: float) -> float:
    """Return the standard uncertainty of a value known only to lie within +-half_width.

    half_width / sqrt(3), in its unit: GUM 4.3.7, all values within the bounds equally probable.

    Raises:
        InputError: the bound is negative or not finite.

    >>> round(rectangular(0.02), 5)
    0.01155
    """
    return _bound(half_width) / math.sqrt(3.0)


def resolution(step: float) -> float:
    """Return the standard uncertainty that a digital step leaves in one indication.

    step / sqrt(12), in its unit: GUM F.2.2.1; the value lies within half a step either way.

    Raises:
        InputError: the step is negative or not finite.
    """
    return rectangular(step / 2.0)


def stated(expanded_u: float, k: float) -> float:
    """Return the standard uncertainty behind an expanded uncertainty on a certificate.

    U / k, in the unit of U: GUM 4.3.3.

    Raises:
        InputError: U is negative, k is not above zero, or either is not finite.
    """
    if not (math.isfinite(k) and k > 0.0):
        raise InputError(
            f"A coverage factor of {k:g} is not possible.",
            hint="State the k of the certificate, usually 2.",
        )
    return _bound(expanded_u) / k


def _bound(value: float) -> float:
    if not (math.isfinite(value) and value >= 0.0):
        raise InputError(
            f"An uncertainty bound of {value:g} is not possible.",
            hint="State it as a number that is zero or more.",
        )
    return value
