"""Does a stated 95 % interval hold the truth in 95 % of simulated benches, and is it short?

    python tests/coverage/study.py [--benches N] [--seed S] [--only TEXT] [--jobs J] [--markdown]

Every bench goes the way of a job, from the readings to the interval of each output, through
the product's own functions; only the oracle is an implementation of its own. ``RESULTS.md``
is what ``--markdown`` prints, and the section that ``strength_study.py --write`` adds then.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np
from oracle_rule import Widths, best_widths
from parts import ASSUMED
from reported import OWN, Method, Reported, found_at, report_bench, sizing_inputs, sizing_model
from results_page import Run, markdown, summary
from scenarios import SCENARIOS, Scenario
from tally import ReadingTally, ScenarioResult, Tally
from truth import SERVED, Array, Benches, simulate_benches

BENCHES = 2000
CALIBRATED_WITH = 4000  # benches of the oracle
LEAST_U = 1e-9  # of a value; below it an output is exact
NOT_MEASURED = frozenset({"found.length", *(quantity.label for quantity in ASSUMED)})


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """How many benches, how many the oracle calibrates with, and the seed of all."""

    benches: int = BENCHES
    calibrated_with: int = CALIBRATED_WITH
    seed: int = 1


def run_scenario(scenario: Scenario, size: Size, method: Method = OWN) -> ScenarioResult:
    """Take the benches of one scenario through the product and count."""
    benches = simulate_benches(scenario, size.benches, size.seed)
    reported = report_benches(benches, size, method)
    model = sizing_model(sizing_inputs(benches, found_at(benches, 0), 0, OWN))
    truth = model(benches.parts.truth)
    labels = labels_of(reported[0])
    # A seed of its own: the oracle has not seen the benches that it is compared on.
    widths = best_widths(scenario, model, labels, size.calibrated_with, size.seed + 1)
    return ScenarioResult(
        scenario=scenario,
        tallies=tuple(tally(label, reported, truth[label], widths[label]) for label in labels),
        readings=count_readings(benches, reported),
    )


def run_study(scenarios: Sequence[Scenario], size: Size, jobs: int = 1) -> list[ScenarioResult]:
    """Run all scenarios, ``jobs`` at a time."""
    if jobs == 1:
        return [run_scenario(scenario, size) for scenario in scenarios]
    with ProcessPoolExecutor(jobs) as pool:
        return list(pool.map(partial(run_scenario, size=size), scenarios))


def report_benches(benches: Benches, size: Size, method: Method = OWN) -> list[Reported]:
    """Return what the product says of each bench; the draws of each have a seed of their own."""
    return [
        report_bench(benches, index, method, seed=size.seed * size.benches + index)
        for index in range(size.benches)
    ]


def labels_of(reported: Reported) -> list[str]:
    """Return the labels of all intervals that come of readings."""
    return [
        label
        for label, stated in reported.stated.items()
        if stated.u > LEAST_U * abs(stated.value) and label not in NOT_MEASURED
    ]


def tally(
    label: str, reported: Sequence[Reported], truth: Array, widths: Widths | None = None
) -> Tally:
    """Hold one interval of all benches against the truth; without widths it is not compared."""
    stated = [each.stated[label] for each in reported]
    low, high, value, u = np.array([(s.low, s.high, s.value, s.u) for s in stated]).T
    errors = value - truth
    return Tally(
        label=label,
        benches=len(reported),
        covered=int(np.count_nonzero((low <= truth) & (truth <= high))),
        half_width=float(np.mean(high - low)) / 2.0,
        median_half_width=float(np.median(high - low)) / 2.0,
        oracle_half_width=widths.oracle if widths else np.nan,
        ideal_half_width=widths.ideal if widths else np.nan,
        coverage_factor=float(np.median((high - low) / (2.0 * u))),
        mean_error=float(errors.mean()),
        error_std=float(errors.std(ddof=1)),
    )


def count_readings(benches: Benches, reported: Sequence[Reported]) -> ReadingTally:
    """Count what became of good and wrong readings."""
    counts = np.zeros((2, 2), dtype=np.int64)
    for name in SERVED:
        for index, each in enumerate(reported):
            for position, wrong in enumerate(benches.wrong[name][index, : each.n_taken[name]]):
                counts[int(wrong), int(position in each.rejected[name])] += 1
    return ReadingTally(
        good=int(counts[0].sum()),
        good_rejected=int(counts[0, 1]),
        wrong=int(counts[1].sum()),
        wrong_rejected=int(counts[1, 1]),
    )


def main() -> None:
    """Run the study and print its page."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--benches", type=int, default=BENCHES)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--only",
        default="",
        help="scenarios whose name holds this text, or one of several parted by |",
    )
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes")
    parser.add_argument("--markdown", action="store_true", help="print the whole page")
    asked = parser.parse_args()
    parts = asked.only.split("|")
    scenarios = [each for each in SCENARIOS if any(part in each.name for part in parts)]
    size = Size(benches=asked.benches, seed=asked.seed)
    results = run_study(scenarios, size, asked.jobs)
    run = Run(
        benches=size.benches,
        seed=size.seed,
        draws=OWN.draws,
        calibrated_with=size.calibrated_with,
    )
    print(markdown(results, run) if asked.markdown else summary(results))


if __name__ == "__main__":
    main()
