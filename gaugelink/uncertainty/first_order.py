"""The first-order route: sensitivities, combined standard uncertainty, budget; what it leaves out.

A model stays a plain function. Each influence is moved by plus and minus its
standard uncertainty and the model is asked again, which the note to GUM 5.1.3
offers in place of derivatives. A model that takes arrays is asked about all of them in
one call, which costs hardly more than one point. Because influences are independent, no
covariance term arises: an influence that two quantities share moves both.

What first order leaves out are the second-order terms of GUM 5.1.2, note. With f_ij for the
mixed second derivative by two influences and so on, the note adds to u_c^2::

    sum over i, j of [f_ij^2 / 2 + f_i f_ijj] u_i^2 u_j^2

and to the estimate itself belongs the shift sum f_ii u_i^2 / 2 (JCGM 101:2008, 9.4
shows both at work). The derivatives are taken as differences of the model one u to
either side, the third by one influence alone two u to either side. The first-order slope,
being such a difference, holds a sixth of that third derivative, and so a third of
f_i f_iii is in u_c^2 already; the other two thirds are added here. The terms by one
influence alone hold for normal influences, those by two for any. This is a report, not a
correction: where it matters, the Monte Carlo interval is the one to trust.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from gaugelink.errors import SizingError
from gaugelink.uncertainty.coverage import welch_satterthwaite
from gaugelink.uncertainty.estimate import (
    BudgetRow,
    Influence,
    Model,
    Quantity,
    best_values,
    factor_of,
    independent_influences,
    moved_values,
)
from gaugelink.uncertainty.monte_carlo import outputs_at

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray


class LinearOutput(NamedTuple):
    """An output as a linear function of the influences.

    ``u`` is the combined standard uncertainty with ``dof`` effective degrees of
    freedom; ``rows`` has one row per independent influence, in the same order
    for every output of one model.
    """

    label: str
    value: float
    u: float
    dof: float
    rows: tuple[BudgetRow, ...]


def propagate(
    model: Model, quantities: Sequence[Quantity], *, takes_arrays: bool = False
) -> tuple[LinearOutput, ...]:
    """Propagate the influences of the inputs through a model to first order.

    c_i = [y(+u_i) - y(-u_i)] / (2 u_i) and u_c^2 = sum((c_i u_i)^2): GUM 5.1.2
    equation (10) over independent influences, with the symmetric differences of
    the note to 5.1.3. A model that is even about its best values, such as x^2 at
    x = 0, comes out with u = 0; the Monte Carlo route shows the truth.

    Args:
        model: plain function of values by label.
        quantities: the inputs of the model.
        takes_arrays: whether the model takes arrays as well as floats.

    Returns:
        One ``LinearOutput`` per output, in the order of the model.

    Raises:
        SizingError: an output has no finite value at, or within u of, the best values.
        ValueError: labels of quantities or influences clash.
    """
    influences = independent_influences(quantities)
    slopes = _all_at_once(model, quantities, influences) if takes_arrays else None
    if slopes is None:
        slopes = _one_by_one(model, quantities, influences)
    return tuple(
        _combine(label, value, influences, sensitivities)
        for label, (value, sensitivities) in slopes.items()
    )


# The value of each output at the best values, and its sensitivity to each influence.
_Slopes = dict[str, tuple[float, list[float]]]


def _all_at_once(
    model: Model, quantities: Sequence[Quantity], influences: Sequence[Influence]
) -> _Slopes | None:
    """Ask about every point in one call; None where one has no value, which does not say why."""
    n = len(influences)
    points = {quantity.label: _stepped(quantity, influences) for quantity in quantities}
    labels, rows = outputs_at(model, points)
    if not all(math.isfinite(value) for row in rows for value in row):
        return None
    return {
        label: (
            row[0],
            [
                (up - down) / (2.0 * influence.u)
                for influence, up, down in zip(
                    influences, row[1 : n + 1], row[n + 1 :], strict=True
                )
            ],
        )
        for label, row in zip(labels, rows, strict=True)
    }


def _stepped(quantity: Quantity, influences: Sequence[Influence]) -> list[float]:
    """Return the quantity at its best, with each influence up by u, and with each down."""
    steps = [factor_of(quantity, influence) * influence.u for influence in influences]
    up, down = ([quantity.value + sign * step for step in steps] for sign in (1.0, -1.0))
    return [quantity.value, *up, *down]


def _one_by_one(
    model: Model, quantities: Sequence[Quantity], influences: Sequence[Influence]
) -> _Slopes:
    best = _outputs(model, best_values(quantities), best_values(quantities))
    sensitivities = [_sensitivity(model, quantities, influence) for influence in influences]
    return {
        label: (value, [by_output[label] for by_output in sensitivities])
        for label, value in best.items()
    }


def _sensitivity(
    model: Model, quantities: Sequence[Quantity], influence: Influence
) -> dict[str, float]:
    touched = [quantity.label for quantity in quantities if factor_of(quantity, influence)]
    up = _outputs(model, moved_values(quantities, influence, influence.u), touched)
    down = _outputs(model, moved_values(quantities, influence, -influence.u), touched)
    return {label: (up[label] - down[label]) / (2.0 * influence.u) for label in up}


def _combine(
    label: str, value: float, influences: Sequence[Influence], sensitivities: Sequence[float]
) -> LinearOutput:
    contributions = [abs(c) * i.u for c, i in zip(sensitivities, influences, strict=True)]
    u = math.hypot(*contributions)
    rows = tuple(
        BudgetRow(
            output=label,
            influence=influence.label,
            kind=influence.kind,
            u=influence.u,
            dof=influence.dof,
            sensitivity=sensitivity,
            contribution=contribution,
            share=(contribution / u) ** 2 if u > 0.0 else 0.0,
        )
        for influence, sensitivity, contribution in zip(
            influences, sensitivities, contributions, strict=True
        )
    )
    dof = welch_satterthwaite(contributions, [influence.dof for influence in influences])
    return LinearOutput(label=label, value=value, u=u, dof=dof, rows=rows)


def _outputs(model: Model, values: Mapping[str, float], blame: Iterable[str]) -> dict[str, float]:
    try:
        outputs = model(values)
    except ArithmeticError as exc:  # a division by zero, a power too large
        raise _no_value("The model", values, blame) from exc
    for label, output in outputs.items():
        # A fractional power of a negative float is complex in Python.
        if isinstance(output, complex) or not math.isfinite(output):
            raise _no_value(label, values, blame)
    return {label: float(output) for label, output in outputs.items()}


def _no_value(what: str, values: Mapping[str, float], blame: Iterable[str]) -> SizingError:
    inputs = tuple(blame)
    where = ", ".join(f"{label} = {values[label]:.6g}" for label in inputs)
    return SizingError(
        f"{what} has no value at {where}.",
        inputs=inputs,
        hint="Check these inputs against one another and their uncertainties.",
    )


MATTERS = 0.05  # part of u from which shift or widening is worth a word
_LEAST_PART = 1e-3  # of the variance: smaller terms are not listed
_ROUNDING = 1e-12  # part of the value below which a difference is float arithmetic
# By how many u an influence is off alone, and two are off together; the others are at their best.
_ALONE = (2.0, 1.0, -1.0, -2.0)
_FIRST, _SECOND = (1.0, 1.0, -1.0, -1.0), (1.0, -1.0, 1.0, -1.0)


class SecondOrderTerm(NamedTuple):
    """What two influences add together, or one by itself; ``variance`` may be negative."""

    first: str
    second: str
    variance: float


class SecondOrder(NamedTuple):
    """An output to second order.

    ``value`` is at the best values and ``u_first`` the first-order combined standard
    uncertainty; ``u`` is the same with the second-order terms, ``shift`` what curvature
    adds to the mean; all in the unit of the output. ``terms`` holds the larger terms,
    largest first.
    """

    output: str
    value: float
    u_first: float
    u: float
    shift: float
    terms: tuple[SecondOrderTerm, ...]

    @property
    def matters(self) -> bool:
        """Whether the shift or the change of u is more than a twentieth of u."""
        limit = max(MATTERS * self.u_first, _ROUNDING * abs(self.value))
        return max(abs(self.shift), abs(self.u - self.u_first)) > limit


def second_order(model: Model, quantities: Sequence[Quantity]) -> tuple[SecondOrder | None, ...]:
    """Compute the second-order terms of every output of a model.

    The model is asked once, about twice as many points as the square of the number of
    influences.

    Returns:
        One entry per output, in the order of the model; None where an output has no
        finite value with an influence off by two u or two of them by one.

    Raises:
        ValueError: labels of quantities or influences clash.
    """
    influences = independent_influences(quantities)
    points = {quantity.label: _values(quantity, influences) for quantity in quantities}
    labels, values = outputs_at(model, points)
    names = [influence.label for influence in influences]
    return tuple(_of_output(label, names, row) for label, row in zip(labels, values, strict=True))


def _values(quantity: Quantity, influences: Sequence[Influence]) -> list[float]:
    """Return the quantity at its best, with each influence off alone, then two by two."""
    import numpy as np

    steps = np.array([factor_of(quantity, influence) * influence.u for influence in influences])
    i, j = np.triu_indices(len(steps), 1)
    alone = np.multiply.outer(steps, _ALONE)
    paired = np.multiply.outer(steps[i], _FIRST) + np.multiply.outer(steps[j], _SECOND)
    off = np.concatenate(([0.0], alone.ravel(), paired.ravel()))
    values: list[float] = (quantity.value + off).tolist()
    return values


def _of_output(label: str, names: Sequence[str], values: Sequence[float]) -> SecondOrder | None:
    """Take one output apart; ``values`` are in the order of ``_values``."""
    import numpy as np

    n = len(names)
    each = np.arange(n)
    i, j = np.triu_indices(n, 1)
    with np.errstate(invalid="ignore", over="ignore"):  # no finite value: told by None
        own = _Own(values[0], np.asarray(values[1 : 4 * n + 1], dtype=float).reshape(n, 4))
        four = np.asarray(values[4 * n + 1 :], dtype=float).reshape(len(i), 4)
        mixed = _mixed(own.slope[i], own.slope[j], four)
    variances = np.concatenate((own.variance, mixed))
    u2_first = math.fsum(slope**2 for slope in own.slope.tolist())
    whole = u2_first + math.fsum(variances.tolist())
    shift = math.fsum(own.bend.tolist()) / 2.0
    if not (math.isfinite(whole) and math.isfinite(shift)):
        return None
    large = np.flatnonzero(np.abs(variances) > _LEAST_PART * max(u2_first, whole))
    firsts, seconds = np.concatenate((each, i))[large], np.concatenate((each, j))[large]
    terms = [
        SecondOrderTerm(first=names[first], second=names[second], variance=variance)
        for first, second, variance in zip(
            firsts.tolist(), seconds.tolist(), variances[large].tolist(), strict=True
        )
    ]
    return SecondOrder(
        output=label,
        value=values[0],
        u_first=math.sqrt(u2_first),
        u=math.sqrt(max(whole, 0.0)),
        shift=shift,
        terms=tuple(sorted(terms, key=lambda term: -abs(term.variance))),
    )


class _Own:
    """The derivatives of one output by each influence alone, in units of its u."""

    def __init__(self, centre: float, at: NDArray[float64]) -> None:
        up2, up, down, down2 = at.T
        self.slope = (up - down) / 2.0
        self.bend = up - 2.0 * centre + down
        third = (up2 - 2.0 * up + 2.0 * down - down2) / 2.0
        self.variance = self.bend * self.bend / 2.0 + self.slope * third * 2.0 / 3.0


def _mixed(
    slope_i: NDArray[float64], slope_j: NDArray[float64], four: NDArray[float64]
) -> NDArray[float64]:
    """f_ij^2 + f_i f_ijj + f_j f_iij, in units of u: the sum over i, j meets each pair twice."""
    up_up, up_down, down_up, down_down = four.T
    f_ij = (up_up - up_down - down_up + down_down) / 4.0
    f_ijj = (up_up + up_down - down_up - down_down) / 2.0 - 2.0 * slope_i
    f_iij = (up_up + down_up - up_down - down_down) / 2.0 - 2.0 * slope_j
    mixed: NDArray[float64] = f_ij * f_ij + slope_i * f_ijj + slope_j * f_iij
    return mixed
