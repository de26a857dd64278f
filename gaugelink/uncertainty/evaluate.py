"""Both routes over one model, side by side, and where they disagree."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from gaugelink.uncertainty.coverage import coverage_factor
from gaugelink.uncertainty.estimate import BudgetRow, Estimate, Model, Quantity
from gaugelink.uncertainty.first_order import LinearOutput, propagate
from gaugelink.uncertainty.monte_carlo import OutputDistribution, simulate

# Significant digits of u that count when the two intervals are compared. One: an
# interval is read here to choose between stock sizes, and with two digits every
# output that a gauge's rectangular error dominates would be reported.
SIGNIFICANT_DIGITS = 1

_ROUNDING = 1e-12  # part of a value below which a difference is float arithmetic


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """An output whose first-order interval the Monte Carlo interval does not confirm.

    ``low_difference`` and ``high_difference`` are the distances of the end points,
    ``tolerance`` the most that was allowed; all in the unit of the output.
    """

    output: str
    low_difference: float
    high_difference: float
    tolerance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Evaluation:
    """The inputs and outputs of a model as estimates, with their budget.

    ``estimates`` holds the outputs and ``inputs`` the input quantities: value, u
    and dof to first order, interval by Monte Carlo. ``first_order`` holds the
    outputs again with the interval value +-k u. ``evaluation["label"]`` finds an
    estimate among outputs and inputs.
    """

    estimates: tuple[Estimate, ...]
    inputs: tuple[Estimate, ...]
    first_order: tuple[Estimate, ...]
    distributions: tuple[OutputDistribution, ...]
    budget: tuple[BudgetRow, ...]
    coverage: float
    draws: int
    seed: int

    @property
    def disagreements(self) -> tuple[Disagreement, ...]:
        """The outputs for which the two intervals differ by more than the tolerance."""
        return _disagreements(self.first_order, self.distributions)

    def __getitem__(self, label: str) -> Estimate:
        for estimate in (*self.estimates, *self.inputs):
            if estimate.label == label:
                return estimate
        raise KeyError(label)


def evaluate(
    model: Model,
    quantities: Sequence[Quantity],
    *,
    units: Mapping[str, str],
    coverage: float = 0.95,
    draws: int = 200_000,
    seed: int = 1,
) -> Evaluation:
    """Evaluate a model with the uncertainty of every input and output, by both routes.

    Args:
        model: plain function of floats or arrays by label; an output may bear the
            label of an input only if it is that input, handed through.
        quantities: the inputs of the model.
        units: unit of each output by label.
        coverage: coverage probability of all intervals, between 0 and 1.
        draws: number of Monte Carlo draws, 1000 or more.
        seed: seed of the draws, 0 or more; the same seed gives the same numbers.

    Raises:
        InputError: coverage, draws or seed is out of range.
        SizingError: an output has no finite value at, or within u of, the best values.
        ValueError: labels clash.
    """
    whole = _with_inputs(model, quantities)
    linear = propagate(whole, quantities)
    drawn = simulate(whole, quantities, coverage=coverage, draws=draws, seed=seed)
    all_units = {**units, **{quantity.label: quantity.unit for quantity in quantities}}
    estimates = _estimates(linear, drawn, all_units)
    n = len(quantities)
    return Evaluation(
        inputs=estimates[:n],
        estimates=estimates[n:],
        first_order=tuple(_expanded(line, all_units, coverage) for line in linear[n:]),
        distributions=drawn[n:],
        budget=tuple(row for line in linear[n:] for row in line.rows),
        coverage=coverage,
        draws=draws,
        seed=seed,
    )


def tolerance_of(u: float) -> float:
    """Return the numerical tolerance of a standard uncertainty, in its unit.

    delta = 10^l / 2 where u is rounded to c x 10^l with ``SIGNIFICANT_DIGITS``
    digits in c: JCGM 101:2008, 7.9.2. Zero where u is zero.
    """
    if u == 0.0:
        return 0.0
    digits = f"{u:.{SIGNIFICANT_DIGITS - 1}e}"
    exponent = int(digits.partition("e")[2]) - (SIGNIFICANT_DIGITS - 1)
    return 0.5 * 10.0**exponent


def _with_inputs(model: Model, quantities: Sequence[Quantity]) -> Model:
    """Return a model whose first outputs are its inputs, so that one run serves both."""
    labels = [quantity.label for quantity in quantities]

    def whole(values: Mapping[str, Any]) -> Mapping[str, Any]:
        outputs = model(values)
        inputs = {label: values[label] for label in labels}
        if any(outputs.get(label, value) is not value for label, value in inputs.items()):
            raise ValueError("an output bears the label of an input")
        return {**inputs, **outputs}

    return whole


def _estimates(
    linear: Sequence[LinearOutput],
    drawn: Sequence[OutputDistribution],
    units: Mapping[str, str],
) -> tuple[Estimate, ...]:
    pairs = zip(linear, drawn, strict=True)
    return tuple(_estimate(line, units, output.low, output.high) for line, output in pairs)


def _estimate(line: LinearOutput, units: Mapping[str, str], low: float, high: float) -> Estimate:
    return Estimate(
        label=line.label,
        value=line.value,
        u=line.u,
        dof=line.dof,
        unit=units[line.label],
        low=low,
        high=high,
    )


def _expanded(line: LinearOutput, units: Mapping[str, str], coverage: float) -> Estimate:
    expanded_u = coverage_factor(coverage, line.dof) * line.u
    return _estimate(line, units, line.value - expanded_u, line.value + expanded_u)


def _disagreements(
    first_order: Sequence[Estimate], drawn: Sequence[OutputDistribution]
) -> tuple[Disagreement, ...]:
    """Compare the intervals end point by end point: JCGM 101:2008, clause 8."""
    compared = (_compare(e, d) for e, d in zip(first_order, drawn, strict=True))
    return tuple(c for c in compared if max(c.low_difference, c.high_difference) > c.tolerance)


def _compare(estimate: Estimate, distribution: OutputDistribution) -> Disagreement:
    # Where the first-order u vanishes (an even function at its turning point),
    # only the draws can say what is a small difference.
    u = estimate.u or distribution.std
    return Disagreement(
        output=estimate.label,
        low_difference=math.fabs(estimate.low - distribution.low),
        high_difference=math.fabs(estimate.high - distribution.high),
        tolerance=max(tolerance_of(u), _ROUNDING * abs(estimate.value)),
    )
