"""Both routes over one model, side by side, and where they disagree."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from gaugelink.uncertainty.adaptive import Adaptive
from gaugelink.uncertainty.comparison import Comparison, Disagreement, compare
from gaugelink.uncertainty.coverage import coverage_factor
from gaugelink.uncertainty.distribution import OutputDistribution, Simulation
from gaugelink.uncertainty.estimate import BudgetRow, Estimate, Model, Quantity
from gaugelink.uncertainty.first_order import LinearOutput, propagate
from gaugelink.uncertainty.intervals import Interval
from gaugelink.uncertainty.monte_carlo import run_simulation
from gaugelink.uncertainty.second_order import SecondOrder, second_order

__all__ = ["Disagreement", "Evaluation", "evaluate"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Evaluation:
    """The inputs and outputs of a model as estimates, with their budget.

    ``estimates`` holds the outputs and ``inputs`` the input quantities: value, u
    and dof to first order, interval by Monte Carlo. ``first_order`` holds the
    outputs again with the interval value +-k u, and ``second_order`` what first order
    leaves out of each, None where the model has no value near by. ``stable`` says
    whether an adaptive run came to its tolerance, None where ``draws`` were given.
    ``evaluation["label"]`` finds an estimate among outputs and inputs.
    """

    estimates: tuple[Estimate, ...]
    inputs: tuple[Estimate, ...]
    first_order: tuple[Estimate, ...]
    second_order: tuple[SecondOrder | None, ...]
    distributions: tuple[OutputDistribution, ...]
    budget: tuple[BudgetRow, ...]
    coverage: float
    draws: int
    seed: int
    stable: bool | None = None

    @property
    def comparisons(self) -> tuple[Comparison, ...]:
        """The two intervals of every output held against one another."""
        routes = zip(self.first_order, self.distributions, self.second_order, strict=True)
        return tuple(compare(*routed) for routed in routes)

    @property
    def disagreements(self) -> tuple[Disagreement, ...]:
        """The outputs whose two intervals differ because the model is not linear enough."""
        return tuple(c.disagreement for c in self.comparisons if c.means_something)

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
    draws: int | Adaptive = 200_000,
    seed: int = 1,
    interval: Interval = Interval.SYMMETRIC,
) -> Evaluation:
    """Evaluate a model with the uncertainty of every input and output, by both routes.

    Args:
        model: plain function of floats or arrays by label; an output may bear the
            label of an input only if it is that input, handed through.
        quantities: the inputs of the model.
        units: unit of each output by label.
        coverage: coverage probability of all intervals, between 0 and 1.
        draws: number of Monte Carlo draws, 1000 or more, or as many as a tolerance needs.
        seed: seed of the draws, 0 or more; the same seed gives the same numbers.
        interval: which coverage interval the draws give.

    Raises:
        InputError: coverage, draws or seed is out of range.
        SizingError: an output has no finite value at, or within u of, the best values.
        ValueError: labels clash.
    """
    whole = _with_inputs(model, quantities)
    linear = propagate(whole, quantities)
    run = run_simulation(
        whole, quantities, coverage=coverage, draws=draws, seed=seed, interval=interval
    )
    beyond = second_order(whole, quantities)
    all_units = {**units, **{quantity.label: quantity.unit for quantity in quantities}}
    return _evaluation(len(quantities), linear, beyond, run, all_units, coverage, seed)


def _evaluation(
    n: int,
    linear: Sequence[LinearOutput],
    beyond: tuple[SecondOrder | None, ...],
    run: Simulation,
    units: Mapping[str, str],
    coverage: float,
    seed: int,
) -> Evaluation:
    """Put the routes together; the first ``n`` outputs are the inputs."""
    estimates = _estimates(linear, run.outputs, units)
    return Evaluation(
        inputs=estimates[:n],
        estimates=estimates[n:],
        first_order=tuple(_expanded(line, units, coverage) for line in linear[n:]),
        second_order=beyond[n:],
        distributions=run.outputs[n:],
        budget=tuple(row for line in linear[n:] for row in line.rows),
        coverage=coverage,
        draws=run.draws,
        seed=seed,
        stable=run.stable,
    )


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
