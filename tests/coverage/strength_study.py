"""Do the stated intervals hold what springs of hidden strength truly do, and are they short?

    python tests/coverage/strength_study.py [--benches N] [--only TEXT] [--jobs J] [--write]

Each bench has a spring whose material, strength and wear are drawn and hidden; the repairer
sees some of its signs, or none. ``--write`` puts the section into ``RESULTS.md``.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from hidden_strength import (
    CROWN,
    EXTENT,
    FOUND,
    FREE,
    LOOSE,
    NAMED,
    NEW,
    OUTPUTS,
    UNKNOWN,
    WHITE,
    Look,
    SpringBenches,
    sizing_inputs_of,
    spring_benches,
)
from spring_physics import Array
from strength_oracle import DRAWS as ORACLE_DRAWS
from strength_oracle import oracle_intervals
from strength_page import page_with, section
from tally import Verdict, wilson_limits

from gaugelink.sizing.inputs import SizingInputs, quantities
from gaugelink.sizing.measurement_model import measurement_model
from gaugelink.sizing.rules import FIXED_RULES, HALF_AREA
from gaugelink.uncertainty.estimate import Quantity
from gaugelink.uncertainty.monte_carlo import simulate

LEAST_COVERAGE = 0.93
CONFIDENCE = 0.999
BENCHES, OF_THE_ORACLE, DRAWS = 400, 150, 2000
LABELS = tuple(f"{spring}.{label}" for spring in (FOUND, NEW) for label in OUTPUTS)
RULES = tuple(rule for rule in FIXED_RULES if rule.name == HALF_AREA)
SIGNS = ((), (FREE,), (LOOSE,), (EXTENT,), (CROWN,), (FREE, LOOSE, EXTENT, CROWN))
LOOKS = tuple(Look(material=m, signs=s) for m in (NAMED, WHITE, UNKNOWN) for s in SIGNS)
PAGE = Path(__file__).parent / "RESULTS.md"

Knowing = tuple[Quantity, ...]


def own_inputs(inputs: SizingInputs) -> SizingInputs:
    """The product is told all that was seen."""
    return inputs


def own_quantities(known: Knowing) -> Knowing:
    """The product's own method."""
    return known


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """How the intervals are made: the product's way, or one that is broken on purpose."""

    told: Callable[[SizingInputs], SizingInputs] = own_inputs
    known: Callable[[Knowing], Knowing] = own_quantities


OWN_WAY = Way()


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One interval over all benches of a scenario.

    The half-widths, in the unit of the output, are those of the benches that the oracle saw;
    ``value`` is the mean of the truth.
    """

    label: str
    benches: int
    covered: int
    half_width: float
    oracle_half_width: float
    oracle_coverage: float
    value: float

    @property
    def coverage(self) -> float:
        """Share of the intervals that hold the truth."""
        return self.covered / self.benches

    @property
    def width_ratio(self) -> float:
        """Mean width over that of the oracle."""
        return self.half_width / self.oracle_half_width

    def verdict(self, least: float = LEAST_COVERAGE, confidence: float = CONFIDENCE) -> Verdict:
        """Hold the coverage against the goal."""
        if self.coverage >= least:
            return Verdict.MET
        limits = wilson_limits(self.covered, self.benches, confidence)
        return Verdict.OPEN if limits[1] >= least else Verdict.MISSED


@dataclass(frozen=True, slots=True, kw_only=True)
class LookResult:
    """What the study found of one scenario."""

    look: Look
    cells: tuple[Cell, ...]

    def __getitem__(self, label: str) -> Cell:
        return next(cell for cell in self.cells if cell.label == label)


def run_look(
    look: Look,
    *,
    benches: int = BENCHES,
    oracle: int = OF_THE_ORACLE,
    seed: int = 1,
    way: Way = OWN_WAY,
) -> LookResult:
    """Take the benches of one scenario through the product, and some past the oracle."""
    drawn = spring_benches(look, benches, seed)
    low, high = stated(drawn, range(benches), seed, way)
    best = oracle_intervals(drawn, min(oracle, benches), seed)
    return LookResult(
        look=look,
        cells=tuple(
            _cell(
                label,
                drawn.truth[label],
                (low[:, n], high[:, n]),
                (best.low[label], best.high[label]),
            )
            for n, label in enumerate(LABELS)
        ),
    )


def stated(
    benches: SpringBenches, indices: Sequence[int], seed: int, way: Way = OWN_WAY
) -> tuple[Array, Array]:
    """Return the limits of the intervals that the product states, a row a bench."""
    ends = []
    for index in indices:
        inputs = way.told(sizing_inputs_of(benches, index))
        model = measurement_model(inputs, RULES)
        run = simulate(
            model,
            way.known(quantities(inputs)),
            coverage=0.95,
            draws=DRAWS,
            seed=seed * len(benches.kind) + index,
        )
        by_label = {output.label: output for output in run}
        ends.append([(by_label[label].low, by_label[label].high) for label in LABELS])
    low, high = np.moveaxis(np.array(ends), 2, 0)
    return low, high


def _cell(label: str, truth: Array, own: tuple[Array, Array], best: tuple[Array, Array]) -> Cell:
    count = len(best[0])
    low, high = own
    return Cell(
        label=label,
        benches=len(truth),
        covered=int(np.count_nonzero((low <= truth) & (truth <= high))),
        half_width=float(np.mean((high - low)[:count])) / 2.0,
        oracle_half_width=float(np.mean(best[1] - best[0])) / 2.0,
        oracle_coverage=float(np.mean((best[0] <= truth[:count]) & (truth[:count] <= best[1]))),
        value=float(truth.mean()),
    )


def main() -> None:
    """Run the study and print its section."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--benches", type=int, default=BENCHES)
    parser.add_argument("--oracle", type=int, default=OF_THE_ORACLE)
    parser.add_argument("--only", default="", help="scenarios whose name holds this text")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes")
    parser.add_argument("--write", action="store_true", help="put it into RESULTS.md")
    asked = parser.parse_args()
    if asked.write and asked.only:
        parser.error("--write needs all scenarios")
    looks = [look for look in LOOKS if asked.only in look.name]
    run = partial(run_look, benches=asked.benches, oracle=asked.oracle)
    with ProcessPoolExecutor(asked.jobs) as pool:
        results = list(pool.map(run, looks))
    command = (
        f"python tests/coverage/strength_study.py --benches {asked.benches} --oracle {asked.oracle}"
    )
    how = (
        f"{asked.benches} simulated benches a scenario, {DRAWS} draws a bench; the oracle with "
        f"{ORACLE_DRAWS} draws on the first {asked.oracle}. All sizes are invented."
    )
    text = section(results, f"{command} --write", how)
    if asked.write:
        page = page_with(PAGE.read_text(encoding="utf-8"), text)
        PAGE.write_text(page, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
