"""One million draws of the sizing outputs: gaugelink against a bare numpy script.

Run it by hand: ``python tests/benchmarks/bench_montecarlo.py [REPEATS]``. Both do the
same job in one process, turn about: draw the same influences, evaluate the same
formulas, torque model and all, take the same two percentiles of every output. The bare
side has the formulas in plain numpy of its own (``bare_sizing``), on whole arrays and
on blocks that stay in the processor's cache; first it is made sure that both sides come
to the same numbers. Only ratios of processor time mean anything; both sides
use one core. The barrel and the gauges are invented.
"""

from __future__ import annotations

import functools
import math
import statistics
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from bare_sizing import rings_more, sizing

from gaugelink.model import GaugeInfo, GaugeKind, Sends, Summary
from gaugelink.sizing.inputs import GivenSpring, SizingInputs, quantities
from gaugelink.sizing.measurement_model import measurement_model
from gaugelink.sizing.rules import rules_for
from gaugelink.uncertainty.estimate import (
    Influence,
    Model,
    Quantity,
    Shape,
    independent_influences,
    quantity_from_typed,
)
from gaugelink.uncertainty.gauge_error import ZeroCheck
from gaugelink.uncertainty.measurand import Face, quantity_from_summary
from gaugelink.uncertainty.monte_carlo import BLOCK, simulate

DRAWS = 1_000_000
COVERAGE = 0.95


def gauge(gauge_id: str, kind: GaugeKind, mpe_mm: float) -> GaugeInfo:
    return GaugeInfo(
        gauge_id=gauge_id,
        kind=kind,
        sends=Sends.BUTTON,
        address="sim:bench",
        format="invented",
        mpe_mm=mpe_mm,
        shift_mpe_mm=mpe_mm,
        mpe_source="invented",
    )


CALIPER = gauge("caliper", GaugeKind.CALIPER, 0.02)
MICROMETER = gauge("micrometer", GaugeKind.MICROMETER, 0.004)
ZEROS = {
    "caliper": ZeroCheck(before_mm=0.0, after_mm=0.01, resolution_mm=0.01),
    "micrometer": ZeroCheck(before_mm=0.0, after_mm=0.001, resolution_mm=0.001),
}


def measured(name: str, mean_mm: float, by: GaugeInfo, face: Face = Face.OUTSIDE) -> Quantity:
    step_mm = ZEROS[by.gauge_id].resolution_mm
    summary = Summary(
        measurand=name,
        gauge_id=by.gauge_id,
        n_taken=6,
        n_used=6,
        mean_mm=mean_mm,
        mean_all_mm=mean_mm,
        std_mm=step_mm,
        spread_mm=2 * step_mm,
        u_mean_mm=step_mm / math.sqrt(6),
        dof=5,
        resolution_mm=step_mm,
    )
    return quantity_from_summary(summary, by, ZEROS[by.gauge_id], face)


def sizing_job() -> tuple[Model, tuple[Quantity, ...]]:
    """Everything measured, a found spring: as many influences and outputs as a job has."""
    inputs = SizingInputs(
        bore=measured("bore", 11.02, CALIPER, Face.INSIDE),
        depth=measured("depth", 2.31, CALIPER, Face.DEPTH),
        lid=measured("lid", 0.412, MICROMETER),
        arbor=measured("arbor", 3.68, CALIPER),
        found=GivenSpring(
            thickness=measured("found.thickness", 0.125, MICROMETER),
            height=measured("found.height", 1.605, MICROMETER),
            length=quantity_from_typed("found.length", 340.0, 6.0),
        ),
        hours_per_turn=7.5,
    )
    return measurement_model(inputs, rules_for(None)), quantities(inputs)


def bare_draw(rng: np.random.Generator, influence: Influence, size: int) -> Any:
    if influence.shape is Shape.RECTANGULAR:
        half_width = influence.u * math.sqrt(3)
        return rng.uniform(-half_width, half_width, size)
    if influence.shape is Shape.TABULATED:
        steps = np.linspace(0.0, 1.0, len(influence.quantiles))
        return np.interp(rng.random(size), steps, influence.quantiles)
    if influence.shape is Shape.STUDENT:
        return influence.u * rng.standard_t(influence.dof, size)
    return rng.normal(0.0, influence.u, size)


def bare_values(
    rng: np.random.Generator, inputs: Sequence[Quantity], influences: Sequence[Influence], size: int
) -> dict[str, Any]:
    drawn = {i.label: bare_draw(rng, i, size) for i in influences}
    values: dict[str, Any] = {}
    for quantity in inputs:
        total: Any = quantity.value
        for term in quantity.terms:
            total = total + term.factor * drawn[term.influence.label]
        values[quantity.label] = total
    return values


def bare_script(inputs: Sequence[Quantity], block: int) -> Mapping[str, Any]:
    """The same job as a short script would do it: arrays, no classes."""
    rng, influences = np.random.default_rng(1), independent_influences(inputs)
    more = rings_more({quantity.label: quantity.value for quantity in inputs})
    rows: dict[str, Any] = {}
    for start in range(0, DRAWS, block):
        size = min(block, DRAWS - start)
        for label, y in sizing(bare_values(rng, inputs, influences, size), more).items():
            rows.setdefault(label, np.empty(DRAWS))[start : start + size] = y
    tail = 50 * (1 - COVERAGE)
    return {label: np.percentile(row, [tail, 100 - tail]) for label, row in rows.items()}


def check_same_numbers(model: Model, inputs: Sequence[Quantity]) -> None:
    values = bare_values(np.random.default_rng(2), inputs, independent_influences(inputs), 1000)
    more = rings_more({quantity.label: quantity.value for quantity in inputs})
    ours, bare = model(values), sizing(values, more)
    assert ours.keys() == bare.keys()
    for label, y in ours.items():
        np.testing.assert_allclose(y, bare[label], rtol=1e-9, atol=1e-12, err_msg=label)


def seconds(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def report(ours: Sequence[float], bare: Mapping[str, Sequence[float]]) -> str:
    model, inputs = sizing_job()
    influences = len(independent_influences(inputs))
    outputs = len(model({quantity.label: quantity.value for quantity in inputs}))
    lines = [
        f"influences {influences}, outputs {outputs}, draws {DRAWS}, repeats {len(ours)}",
        f"gaugelink, best                {min(ours):.3f} s",
    ]
    for what, times in bare.items():
        median = statistics.median(a / b for a, b in zip(ours, times, strict=True))
        lines += [
            f"bare numpy, {what}, best  {min(times):.3f} s",
            f"  gaugelink / bare: best of each {min(ours) / min(times):.2f}, "
            f"median pair {median:.2f} (aim: 2 or less)",
        ]
    return "\n".join(lines) + "\n"


def main(repeats: int) -> None:
    model, inputs = sizing_job()
    check_same_numbers(model, inputs)
    blocks = {"whole arrays": DRAWS, "cached blocks": BLOCK}
    ours: list[float] = []
    bare: dict[str, list[float]] = {what: [] for what in blocks}
    for _ in range(repeats):
        for what, block in blocks.items():
            bare[what].append(seconds(functools.partial(bare_script, inputs, block)))
        ours.append(
            seconds(lambda: simulate(model, inputs, coverage=COVERAGE, draws=DRAWS, seed=1))
        )
    sys.stdout.write(report(ours, bare))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
