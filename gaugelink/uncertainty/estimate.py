"""The types of the uncertainty stage: influences, input quantities, estimates, the budget.

An input quantity is an estimate plus a sum of independent *influences*. Two
quantities measured with one gauge hold the same influence object, which is how
their correlation reaches both the first-order and the Monte Carlo route: both
work on the independent influences, never on a correlation matrix.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

from gaugelink.uncertainty import type_b

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Array: TypeAlias = npt.NDArray[np.float64]

Kind: TypeAlias = Literal["A", "B"]

# A model takes and returns floats or arrays alike, keyed by label.
Model: TypeAlias = Callable[[Mapping[str, Any]], Mapping[str, Any]]


class Shape(StrEnum):
    """The probability distribution that stands for an influence."""

    NORMAL = "normal"
    STUDENT = "t"  # scaled and shifted t, JCGM 101:2008, 6.4.9
    RECTANGULAR = "rectangular"


@dataclass(frozen=True, slots=True, kw_only=True)
class Influence:
    """One independent source of uncertainty, with mean zero.

    Args:
        label: unique name; equal labels are the same influence.
        kind: evaluated by statistics ("A") or otherwise ("B").
        u: standard uncertainty, for ``STUDENT`` the scale s/sqrt(n).
        shape: distribution for the Monte Carlo route.
        dof: degrees of freedom, ``math.inf`` when u is taken as known.
    """

    label: str
    kind: Kind
    u: float
    shape: Shape = Shape.NORMAL
    dof: float = math.inf


def bounded(label: str, half_width: float) -> Influence:
    """Return an influence known only to lie within +-half_width: rectangular, GUM 4.3.7.

    Args:
        label: its unique name.
        half_width: the bound, in the unit of the quantity, 0 or more.

    Raises:
        InputError: the bound is negative or not finite.
    """
    u = type_b.rectangular(half_width)
    return Influence(label=label, kind="B", u=u, shape=Shape.RECTANGULAR)


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
