"""One million draws of the sizing outputs: gaugelink against a bare numpy script.

Run it by hand: ``python tests/benchmarks/bench_montecarlo.py [REPEATS]``. Both do the
same job in one process, turn about: draw the same influences, evaluate the same
formulas, take the same two percentiles of every output. Only ratios mean anything.
The barrel and the gauges are invented.
"""

from __future__ import annotations

import math
import statistics
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from gaugelink.model import GaugeInfo, GaugeKind, Sends, Summary
from gaugelink.sizing.inputs import GivenSpring, SizingInputs, quantities
from gaugelink.sizing.measurement_model import measurement_model
from gaugelink.sizing.rules import rules_for
from gaugelink.uncertainty import (
    Face,
    Influence,
    Model,
    Quantity,
    Shape,
    ZeroCheck,
    quantity_from_summary,
    quantity_from_typed,
    simulate,
)
from gaugelink.uncertainty.influences import independent_influences

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


def bare_draw(rng: np.random.Generator, influence: Influence) -> Any:
    if influence.shape is Shape.RECTANGULAR:
        half_width = influence.u * math.sqrt(3)
        return rng.uniform(-half_width, half_width, DRAWS)
    if influence.shape is Shape.STUDENT:
        return influence.u * rng.standard_t(influence.dof, DRAWS)
    return rng.normal(0.0, influence.u, DRAWS)


def bare_script(model: Model, inputs: Sequence[Quantity]) -> Mapping[str, Any]:
    """The same job as a short script would do it: whole arrays, no classes."""
    rng = np.random.default_rng(1)
    drawn = {i.label: bare_draw(rng, i) for i in independent_influences(inputs)}
    values: dict[str, Any] = {}
    for quantity in inputs:
        total: Any = quantity.value
        for term in quantity.terms:
            total = total + term.factor * drawn[term.influence.label]
        values[quantity.label] = total
    tail = 50 * (1 - COVERAGE)
    return {label: np.percentile(y, [tail, 100 - tail]) for label, y in model(values).items()}


def seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def report(ours: Sequence[float], bare: Sequence[float]) -> str:
    model, inputs = sizing_job()
    influences = len(independent_influences(inputs))
    outputs = len(model({quantity.label: quantity.value for quantity in inputs}))
    median = statistics.median(a / b for a, b in zip(ours, bare, strict=True))
    lines = (
        f"influences {influences}, outputs {outputs}, draws {DRAWS}, repeats {len(ours)}",
        f"bare numpy script, best        {min(bare):.3f} s",
        f"gaugelink, best                {min(ours):.3f} s",
        f"gaugelink / bare, best of each {min(ours) / min(bare):.2f} (aim: 2 or less)",
        f"gaugelink / bare, median pair  {median:.2f} (aim: 2 or less)",
    )
    return "\n".join(lines) + "\n"


def main(repeats: int) -> None:
    model, inputs = sizing_job()
    ours, bare = [], []
    for _ in range(repeats):
        bare.append(seconds(lambda: bare_script(model, inputs)))
        ours.append(
            seconds(lambda: simulate(model, inputs, coverage=COVERAGE, draws=DRAWS, seed=1))
        )
    sys.stdout.write(report(ours, bare))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
