"""The way of one bench through the product: readings in, the intervals it reports out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from records import PLAN, gauge_records, series_taken, zero_check
from truth import SERVED, Benches, owner

from gaugelink.assembly.parts import hand_beside, hand_in, summarised
from gaugelink.gauge_record import GaugeRecord
from gaugelink.model import Series, Summary
from gaugelink.sizing.inputs import SizingInputs, given_spring, quantities, typed_input
from gaugelink.sizing.measurement_model import measurement_model
from gaugelink.sizing.rules import FIXED_RULES, HALF_AREA
from gaugelink.uncertainty.estimate import Model, Quantity
from gaugelink.uncertainty.measurand_model import Found, measured_quantity, used_readings_mm
from gaugelink.uncertainty.monte_carlo import simulate

RULES = tuple(rule for rule in FIXED_RULES if rule.name == HALF_AREA)
SOUGHT = {step.measurand: step.seek for step in PLAN.steps}

Alteration = Callable[[Quantity], Quantity]


def unaltered(quantity: Quantity) -> Quantity:
    """The product's own method."""
    return quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Method:
    """How an interval is made: the product's way, or one that is broken on purpose.

    An interval between the order statistics r and r + q of M draws holds one more draw of
    the same distribution with probability q / (M + 1), whatever that distribution is. So
    the study reads 0.05 % below the coverage of endless draws where M is 2000, to the
    disadvantage of the product; the draws of each bench have a seed of their own.
    """

    alter: Alteration = unaltered
    draws: int = 2000


OWN = Method()


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """The best value, the interval and u of one input or output, in its unit."""

    value: float
    low: float
    high: float
    u: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reported:
    """What the product says of one bench.

    ``stated`` holds the intervals by label. ``n_taken`` counts the readings of each
    measurand, and ``rejected`` are the positions of those that were left out.
    """

    stated: Mapping[str, Stated]
    n_taken: Mapping[str, int]
    rejected: Mapping[str, frozenset[int]]


def report_bench(benches: Benches, index: int, method: Method, seed: int) -> Reported:
    """Take one bench from its readings to the intervals of every input and output."""
    found = found_at(benches, index)
    inputs = sizing_inputs(benches, found, index, method)
    return Reported(
        stated=_intervals(inputs, method.draws, seed),
        n_taken={name: each.summary.n_taken for name, each in found.items()},
        rejected={
            name: frozenset(mark.index for mark in each.summary.marks if mark.rejected)
            for name, each in found.items()
        },
    )


def found_at(benches: Benches, index: int) -> dict[str, Found]:
    """Return what is found out about each measurand of one bench."""
    records = gauge_records(benches, index)
    taken = {name: series_taken(benches, name, index) for name in SERVED}
    summaries = {name: _summary(benches, name, taken, records) for name in SERVED}
    found = {}
    for name, summary in summaries.items():
        gauge = owner(name, benches.scenario)
        of_gauge = [each for each in summaries.values() if each.gauge_id == gauge.gauge_id]
        zero = zero_check(name, benches, index, summary.n_taken)
        found[name] = Found(
            summary=summary,
            used_mm=used_readings_mm([r.value_mm for r in taken[name].readings], summary),
            gauge=gauge.info,
            zero=replace(zero, hand=hand_in(of_gauge)),
            record=records.get(gauge.gauge_id),
            hand=hand_beside(of_gauge, name),
        )
    return found


def _summary(
    benches: Benches,
    name: str,
    taken: Mapping[str, Series],
    records: Mapping[str, GaugeRecord],
) -> Summary:
    series, gauge = taken[name], owner(name, benches.scenario)
    others = [
        other
        for other in taken.values()
        if other.gauge_id == series.gauge_id and other is not series
    ]
    known = records.get(gauge.gauge_id)
    return summarised(series, gauge.info, SOUGHT[name], known=known, others=others)


def sizing_inputs(
    benches: Benches, found: Mapping[str, Found], index: int, method: Method
) -> SizingInputs:
    """Return what the sizing is given of one bench."""
    measured = {name: method.alter(measured_quantity(each)) for name, each in found.items()}
    typed = typed_input("found.length", float(benches.parts.typed_length[index]))
    return SizingInputs(
        bore=measured["bore"],
        depth=measured["depth"],
        lid=measured["lid"],
        arbor=measured["arbor"] if benches.scenario.with_arbor else None,
        found=given_spring("found", {**measured, "found_length": typed}),
    )


def sizing_model(inputs: SizingInputs) -> Model:
    """Return the measurement model with its inputs handed through, and one rule."""
    model = measurement_model(inputs, RULES)
    return lambda values: {**values, **model(values)}


def _intervals(inputs: SizingInputs, draws: int, seed: int) -> dict[str, Stated]:
    """Run the Monte Carlo alone: ``evaluate`` takes its intervals from it, and budgets beside."""
    model, known = sizing_model(inputs), quantities(inputs)
    best = model({quantity.label: quantity.value for quantity in known})
    run = simulate(model, known, coverage=0.95, draws=draws, seed=seed)
    return {
        output.label: Stated(
            value=best[output.label], low=output.low, high=output.high, u=output.std
        )
        for output in run
    }
