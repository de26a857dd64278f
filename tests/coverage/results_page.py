"""The page of results: goals, one row a scenario, one cell an interval, all figures below."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from tally import (
    LEAST_COVERAGE_CLEAN,
    LEAST_COVERAGE_CONTAMINATED,
    MOST_WIDTH,
    ScenarioResult,
    Tally,
    Verdict,
)

CONFIDENCE = 0.999  # a coverage is called missed where chance does that once in a thousand

# The intervals of the second table; all others follow from the same inputs.
HEADINGS = {
    "bore": "bore",
    "depth": "depth",
    "lid": "lid",
    "arbor": "arbor",
    "found.thickness": "thickness",
    "found.height": "spring height",
    "height": "available height",
    "half-area.length": "length by rule",
    "half-area.turns": "turns by rule",
    "found.fill": "fill",
    "found.turns": "turns",
    "found.torque_at_limit": "torque ratio",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """How the study was run."""

    benches: int
    seed: int
    draws: int
    calibrated_with: int


def summary(results: Sequence[ScenarioResult]) -> str:
    """Return the first table and the misses, for a terminal."""
    return "\n".join([*_scenarios(results), "", *_misses(results)])


def markdown(results: Sequence[ScenarioResult], run: Run) -> str:
    """Return the whole page."""
    return "\n".join(
        [
            *_head(run),
            *_scenarios(results),
            "",
            "## Goals that are missed",
            "",
            *_misses(results),
            "",
            "## Coverage in %, and width over that of the oracle",
            "",
            *_grid(results),
            "",
            "## Every interval",
            "",
            "Limits are 95 % confidence limits (Wilson) of the coverage; half-width, oracle and",
            "ideal are means in the unit of the output; k is the median of half-width over u;",
            "bias is the mean error of the best value over the mean half-width.",
            "",
            *_details(results),
        ]
    )


def _head(run: Run) -> Iterator[str]:
    yield "# Coverage study"
    yield ""
    yield (
        f"`python tests/coverage/study.py --benches {run.benches} --seed {run.seed} --markdown`: "
        f"{run.benches} simulated benches a scenario, {run.draws} draws a bench, the oracle "
        f"calibrated with {run.calibrated_with} benches at each of three scatters. All sizes "
        "are invented."
    )
    yield ""
    yield (
        f"Goals: a 95 % interval covers at least {LEAST_COVERAGE_CLEAN:.0%}, with outliers at "
        f"least {LEAST_COVERAGE_CONTAMINATED:.0%}, and is at most {MOST_WIDTH:.2f} times as wide "
        "as that of the oracle. The oracle is the shortest rule for the scenario that is given "
        "the same readings and the same knowledge of the gauges; the ideal is told the scatter "
        "and the wrong readings as well, which nobody is (`oracle_rule.py`). Bold: a goal is "
        "missed, the coverage by more than chance does once in a thousand."
    )
    yield ""


def _scenarios(results: Sequence[ScenarioResult]) -> Iterator[str]:
    yield from _heading(
        [
            "scenario",
            "mean coverage / %",
            "least, with its limits / %",
            "mean width over oracle",
            "median width over oracle",
            "over ideal",
            "widest over oracle",
            "largest bias / %",
            "good readings rejected / %",
            "outliers rejected / %",
        ]
    )
    for result in results:
        yield _row([result.scenario.name, *_figures(result)])


def _figures(result: ScenarioResult) -> Iterator[str]:
    tallies = result.tallies
    least = min(tallies, key=lambda tally: tally.coverage)
    widest = max(tallies, key=lambda tally: tally.width_ratio)
    low, high = least.coverage_limits()
    missed = least.coverage_verdict(result.least_coverage, CONFIDENCE) is Verdict.MISSED
    caught = result.readings.wrong_caught
    yield f"{100 * _mean(tally.coverage for tally in tallies):.1f}"
    yield (
        f"{_bold(f'{100 * least.coverage:.1f}', missed)} ({100 * low:.1f} to {100 * high:.1f}) "
        f"{least.label}"
    )
    yield f"{_mean(tally.width_ratio for tally in tallies):.2f}"
    yield f"{_mean(tally.median_ratio for tally in tallies):.2f}"
    yield f"{_mean(tally.ideal_ratio for tally in tallies):.2f}"
    wide = _bold(f"{widest.width_ratio:.2f}", widest.width_ratio > MOST_WIDTH)
    yield f"{wide} {widest.label}"
    yield f"{100 * max((tally.bias_share for tally in tallies), key=abs):.0f}"
    yield f"{100 * result.readings.good_lost:.2f}"
    yield "" if caught is None else f"{100 * caught:.0f}"


def _mean(values: Iterable[float]) -> float:
    listed = list(values)
    return sum(listed) / len(listed)


def _grid(results: Sequence[ScenarioResult]) -> Iterator[str]:
    yield from _heading(["scenario", *HEADINGS.values()])
    for result in results:
        cells = (_cell(result[label], result.least_coverage) for label in HEADINGS)
        yield _row([result.scenario.name, *cells])


def _cell(tally: Tally, least: float) -> str:
    missed = tally.coverage_verdict(least, CONFIDENCE) is Verdict.MISSED
    coverage = _bold(f"{100 * tally.coverage:.1f}", missed)
    return f"{coverage} · {_bold(f'{tally.width_ratio:.2f}', tally.width_ratio > MOST_WIDTH)}"


def _misses(results: Sequence[ScenarioResult]) -> list[str]:
    missed = [f"- {text}" for result in results for text in result.misses(CONFIDENCE)]
    return missed or ["None."]


def _details(results: Sequence[ScenarioResult]) -> Iterator[str]:
    columns = ["coverage / %", "limits", "half-width", "oracle", "ratio", "ideal", "k", "bias / %"]
    yield from _heading(["scenario", "interval", *columns])
    for result in results:
        for tally in result.tallies:
            yield _row([result.scenario.name, tally.label, *_detail(tally)])


def _detail(tally: Tally) -> Iterator[str]:
    low, high = tally.coverage_limits()
    yield f"{100 * tally.coverage:.2f}"
    yield f"{100 * low:.2f} to {100 * high:.2f}"
    yield f"{tally.half_width:.4g}"
    yield f"{tally.oracle_half_width:.4g}"
    yield f"{tally.width_ratio:.3f}"
    yield f"{tally.ideal_half_width:.4g}"
    yield f"{tally.coverage_factor:.2f}"
    yield f"{100 * tally.bias_share:.1f}"


def _heading(cells: Sequence[str]) -> Iterator[str]:
    yield _row(cells)
    yield _row("---" for _ in cells)


def _row(cells: Iterable[str]) -> str:
    return f"| {' | '.join(cells)} |"


def _bold(text: str, on: bool) -> str:
    return f"**{text}**" if on else text
