"""The first-order route: sensitivities, combined standard uncertainty, budget. GUM 5.1.

A model stays a plain function. Each influence is moved by plus and minus its
standard uncertainty and the model is asked again, which the note to GUM 5.1.3
offers in place of derivatives. Because influences are independent, no
covariance term arises: an influence that two quantities share moves both.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from gaugelink.errors import SizingError
from gaugelink.uncertainty.coverage import welch_satterthwaite
from gaugelink.uncertainty.estimate import BudgetRow, Influence, Model, Quantity
from gaugelink.uncertainty.influences import (
    best_values,
    factor_of,
    independent_influences,
    moved_values,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LinearOutput:
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


def propagate(model: Model, quantities: Sequence[Quantity]) -> tuple[LinearOutput, ...]:
    """Propagate the influences of the inputs through a model to first order.

    c_i = [y(+u_i) - y(-u_i)] / (2 u_i) and u_c^2 = sum((c_i u_i)^2): GUM 5.1.2
    equation (10) over independent influences, with the symmetric differences of
    the note to 5.1.3. A model that is even about its best values, such as x^2 at
    x = 0, comes out with u = 0; the Monte Carlo route shows the truth.

    Args:
        model: plain function from input values to output values, by label.
        quantities: the inputs of the model.

    Returns:
        One ``LinearOutput`` per output, in the order of the model.

    Raises:
        SizingError: an output has no finite value at, or within u of, the best values.
        ValueError: labels of quantities or influences clash.
    """
    influences = independent_influences(quantities)
    best = _outputs(model, best_values(quantities), best_values(quantities))
    sensitivities = [_sensitivity(model, quantities, influence) for influence in influences]
    return tuple(
        _combine(label, value, influences, [by_output[label] for by_output in sensitivities])
        for label, value in best.items()
    )


def correlation(first: LinearOutput, second: LinearOutput) -> float:
    """Return the correlation coefficient of two outputs of one model, -1 to 1.

    r = sum(c_1i c_2i u_i^2) / (u_1 u_2): GUM F.1.2.3, two quantities that depend on
    the same independent ones. An output without uncertainty correlates with nothing: 0.

    Raises:
        ValueError: the outputs come from different runs.
    """
    if [row.influence for row in first.rows] != [row.influence for row in second.rows]:
        raise ValueError("the two outputs do not come from one run")
    if first.u == 0.0 or second.u == 0.0:
        return 0.0
    covariance = math.fsum(
        a.sensitivity * b.sensitivity * a.u * a.u
        for a, b in zip(first.rows, second.rows, strict=True)
    )
    return covariance / (first.u * second.u)


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
