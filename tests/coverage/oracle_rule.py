"""How wide the best 95 % interval of a scenario is: two rules calibrated by simulation.

Both have intervals centre +- h, with

    h = (a^p + (b u)^p)^(1/p)

where u is what scatter gives for the output. They have simulated the scenario beforehand,
and chosen a, b and p that make the mean of h smallest while the interval holds the truth
in 95 % of the benches.

*The oracle* is given what the product is given: the same readings and zeros, the limits of
the gauge and its last check. It is not told the scatter, nor which readings are blunders:
u comes from the scatter that it sees, and it has chosen the treatment of suspicious
readings as well. It must hold for the scenario's scatter and form, and for a third and
three times of them: a rule tuned to one scatter would know it, and nobody at a bench does.

*The ideal* is told the scatter of every series and which readings are blunders. No rule
can be as short; it shows what not knowing costs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import TypeAlias

import numpy as np
from cleanings import CLEANINGS, Cleaning
from parts import ASSUMED, Array, Values
from records import count_taken
from scenarios import Scenario
from truth import SERVED, Benches, Mask, owner, reading_times, served_by, simulate_benches

from gaugelink.sizing.inputs import ARBOR_PER_BORE
from gaugelink.uncertainty.estimate import Model

COVERAGE = 0.95
SCATTERS = (1.0, 0.3, 3.0)  # the scenario's own comes first
POWERS = (1.0, 1.5, 2.0, 4.0)
FACTORS = (0.0, *np.geomspace(0.25, 12.0, 16).tolist())

Choice: TypeAlias = Callable[[Benches], Mapping[str, Mask]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Widths:
    """Mean half-widths of one output by the two rules, in its unit."""

    oracle: float
    ideal: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """Many benches of one scatter: errors of the centre and u, by label."""

    error: Mapping[str, Array]
    u: Mapping[str, Array]

    def of(self, label: str) -> tuple[Array, Array]:
        return self.error[label], self.u[label]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Source:
    """A scatter, and the inputs that it moves together."""

    inputs: tuple[str, ...]
    u: Array


def best_widths(
    scenario: Scenario, model: Model, labels: Sequence[str], n_benches: int, seed: int
) -> dict[str, Widths]:
    """Return the mean half-widths of the two rules by label.

    Args:
        scenario: what kind of bench.
        model: the measurement model, its inputs handed through.
        labels: inputs and outputs of the model.
        n_benches: how many benches to calibrate with, at each scatter.
        seed: of the benches.
    """
    drawn = [simulate_benches(scenario, n_benches, seed, scatter) for scatter in SCATTERS]
    taken = [_taken(benches) for benches in drawn]
    oracle = dict.fromkeys(labels, np.inf)
    for cleaning in CLEANINGS[:1] if scenario.is_clean else CLEANINGS:
        cases = [
            _case(benches, _cleaned(benches, counts, cleaning), model, _seen)
            for benches, counts in zip(drawn, taken, strict=True)
        ]
        for label in labels:
            oracle[label] = min(oracle[label], shortest([case.of(label) for case in cases]))
    right = {name: keep & ~drawn[0].wrong[name] for name, keep in taken[0].items()}
    told = _case(drawn[0], right, model, _told)
    return {
        label: Widths(oracle=oracle[label], ideal=shortest([told.of(label)])) for label in labels
    }


def shortest(cases: Sequence[tuple[Array, Array]]) -> float:
    """Return the least mean of h over the first case that keeps the coverage in all cases.

    Args:
        cases: errors of the centre and their u, bench by bench.
    """
    usual = np.median(cases[0][0])
    far = [(np.abs(error - usual), u) for error, u in cases]
    own = far[0][1]
    return min(
        float(np.mean((_least(far, b, p) + (b * own) ** p) ** (1.0 / p)))
        for p, b in product(POWERS, FACTORS)
    )


def _least(far: Sequence[tuple[Array, Array]], b: float, p: float) -> float:
    """Return the least a^p for which |error|^p <= a^p + (b u)^p in 95 % of every case."""
    return max(_quantile(np.maximum(error**p - (b * u) ** p, 0.0)) for error, u in far)


def _quantile(values: Array) -> float:
    rank = min(int(np.ceil(COVERAGE * (len(values) + 1))), len(values)) - 1
    return float(np.partition(values, rank)[rank])


def _case(
    benches: Benches,
    kept: Mapping[str, Mask],
    model: Model,
    scatter_of: Callable[[Benches, Mapping[str, Mask]], Iterator[_Source]],
) -> _Case:
    centres = {_label(name): _centre(benches, name, kept[name]) for name in SERVED}
    truth = model(benches.parts.truth)
    best = _outputs(centres, benches, model)
    squares = {label: np.zeros(len(error)) for label, error in best.items()}
    for source in scatter_of(benches, kept):
        moved = {**centres, **{label: centres[label] + source.u for label in source.inputs}}
        for label, value in _outputs(moved, benches, model).items():
            squares[label] += (value - best[label]) ** 2
    return _Case(
        error={label: best[label] - truth[label] for label in best},
        u={label: np.sqrt(square) for label, square in squares.items()},
    )


def _outputs(measured: Mapping[str, Array], benches: Benches, model: Model) -> Values:
    count = len(benches.parts.typed_length)
    known = {**measured, "found.length": benches.parts.typed_length}
    known["clearance"] = benches.parts.truth["clearance"]
    known |= {quantity.label: np.full(count, quantity.value) for quantity in ASSUMED}
    if not benches.scenario.with_arbor:
        known["arbor"] = known["bore"] * ARBOR_PER_BORE
    with np.errstate(all="ignore"):  # a hopeless blunder may leave no room for a spring
        outputs = model(known)
    return {
        label: np.nan_to_num(np.broadcast_to(value, count), nan=1e6)
        for label, value in outputs.items()
    }


def _centre(benches: Benches, name: str, kept: Mask) -> Array:
    before, after = benches.zeros[owner(name, benches.scenario).gauge_id].T
    share = reading_times(name, benches.scenario)[: benches.scenario.n].mean()
    mean = _mean(benches.readings[name], kept)
    return np.asarray(mean - before - share * (after - before), dtype=np.float64)


def _mean(readings: Array, kept: Mask) -> Array:
    """Of a series without a right reading the mean of all stands in."""
    some = kept | ~kept.any(axis=1, keepdims=True)
    return np.asarray((readings * some).sum(axis=1) / some.sum(axis=1), dtype=np.float64)


def _seen(benches: Benches, kept: Mapping[str, Mask]) -> Iterator[_Source]:
    """Yield the scatter of each series, and that of closing the faces where it is known."""
    for name in SERVED:
        count = kept[name].sum(axis=1)
        off = benches.readings[name] - _mean(benches.readings[name], kept[name])[:, None]
        squares = (off**2 * kept[name]).sum(axis=1)
        u = np.sqrt(squares / np.maximum(count - 1, 1) / np.maximum(count, 1))
        yield _Source(inputs=(_label(name),), u=u)
    for gauge in benches.scenario.gauges:
        if gauge.calibrated:
            u = benches.check_zeros[gauge.gauge_id].std(axis=1, ddof=1) / np.sqrt(2.0)
            yield _Source(inputs=_all_of(gauge.gauge_id, benches), u=u)


def _told(benches: Benches, kept: Mapping[str, Mask]) -> Iterator[_Source]:
    for name in SERVED:
        count = np.maximum(kept[name].sum(axis=1), 1)
        yield _Source(inputs=(_label(name),), u=benches.scatter[name] / np.sqrt(count))
    for gauge in benches.scenario.gauges:
        u = benches.closing[gauge.gauge_id] / np.sqrt(2.0)
        yield _Source(inputs=_all_of(gauge.gauge_id, benches), u=u)


def _all_of(gauge_id: str, benches: Benches) -> tuple[str, ...]:
    (gauge,) = (each for each in benches.scenario.gauges if each.gauge_id == gauge_id)
    return tuple(map(_label, served_by(gauge, benches.scenario)))


def _label(name: str) -> str:
    return name.replace("_", ".")


def _taken(benches: Benches) -> dict[str, Mask]:
    """Which readings were taken: as many as the product asks for."""
    return {
        name: np.arange(benches.readings[name].shape[1]) < _counts(benches, name)[:, None]
        for name in SERVED
    }


def _counts(benches: Benches, name: str) -> Array:
    n_benches = len(benches.readings[name])
    return np.array([count_taken(benches, name, index) for index in range(n_benches)])


def _cleaned(benches: Benches, taken: Mapping[str, Mask], cleaning: Cleaning) -> dict[str, Mask]:
    return {name: _keep(benches, name, taken[name], cleaning) for name in SERVED}


def _keep(benches: Benches, name: str, taken: Mask, cleaning: Cleaning) -> Mask:
    kept = np.zeros(taken.shape, dtype=np.bool_)
    counts = taken.sum(axis=1)
    step_mm = owner(name, benches.scenario).step_mm
    for count in np.unique(counts):
        rows = counts == count
        kept[rows, :count] = cleaning.keep(benches.readings[name][rows, :count], step_mm)
    return kept
