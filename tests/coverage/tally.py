"""What the study counts, and whether it meets the goals."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from scenarios import Scenario

from gaugelink.statistics.student import normal_quantile

LEAST_COVERAGE_CLEAN = 0.94
LEAST_COVERAGE_CONTAMINATED = 0.93
MOST_WIDTH = 1.10  # mean width over that of the oracle


class Verdict(StrEnum):
    """Whether a goal is met; open where chance alone may have moved the figure across it."""

    MET = "met"
    OPEN = "open"
    MISSED = "missed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """One reported interval over all benches of a scenario.

    In the unit of the output: mean and median half-width, the mean of oracle and ideal (not
    a number where nothing was compared), mean error of the best value and standard deviation of the
    error. ``coverage_factor`` is the median of half-width over u; it means nothing where a
    scatter has fewer than three degrees of freedom.
    """

    label: str
    benches: int
    covered: int
    half_width: float
    median_half_width: float
    oracle_half_width: float
    ideal_half_width: float
    coverage_factor: float
    mean_error: float
    error_std: float

    @property
    def coverage(self) -> float:
        """Share of the intervals that hold the truth."""
        return self.covered / self.benches

    @property
    def width_ratio(self) -> float:
        """Mean width over that of the oracle."""
        return self.half_width / self.oracle_half_width

    @property
    def median_ratio(self) -> float:
        """Median width over the mean one of the oracle."""
        return self.median_half_width / self.oracle_half_width

    @property
    def ideal_ratio(self) -> float:
        """Mean width over that of the ideal."""
        return self.half_width / self.ideal_half_width

    @property
    def bias_share(self) -> float:
        """Mean error over the mean half-width."""
        return self.mean_error / self.half_width

    def coverage_limits(self, confidence: float = 0.95) -> tuple[float, float]:
        """Return the confidence limits of the coverage."""
        return wilson_limits(self.covered, self.benches, confidence)

    def coverage_verdict(self, least: float, confidence: float) -> Verdict:
        """Hold the coverage against its goal."""
        if self.coverage >= least:
            return Verdict.MET
        return Verdict.OPEN if self.coverage_limits(confidence)[1] >= least else Verdict.MISSED


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingTally:
    """What became of the readings of a scenario, good and grossly wrong ones."""

    good: int
    good_rejected: int
    wrong: int
    wrong_rejected: int

    @property
    def good_lost(self) -> float:
        """Share of the good readings that were rejected."""
        return self.good_rejected / self.good

    @property
    def wrong_caught(self) -> float | None:
        """Share of the wrong readings that were rejected; None when there were none."""
        return self.wrong_rejected / self.wrong if self.wrong else None


def wilson_limits(successes: int, trials: int, confidence: float) -> tuple[float, float]:
    """Return the confidence limits of a probability.

    E. B. Wilson, J. American Statistical Association 22 (1927) 209-212.
    """
    z = normal_quantile((1.0 + confidence) / 2.0)
    share, weight = successes / trials, z * z / trials
    middle = (share + weight / 2.0) / (1.0 + weight)
    half = z * math.sqrt(share * (1.0 - share) / trials + weight / trials / 4.0) / (1.0 + weight)
    return middle - half, middle + half


@dataclass(frozen=True, slots=True, kw_only=True)
class ScenarioResult:
    """What the study found of one scenario."""

    scenario: Scenario
    tallies: tuple[Tally, ...]
    readings: ReadingTally

    @property
    def least_coverage(self) -> float:
        """The goal for the coverage of this scenario."""
        return LEAST_COVERAGE_CLEAN if self.scenario.is_clean else LEAST_COVERAGE_CONTAMINATED

    def __getitem__(self, label: str) -> Tally:
        return next(tally for tally in self.tallies if tally.label == label)

    def misses(self, confidence: float = 0.999) -> list[str]:
        """Say which goals are missed, beyond what chance may do to a coverage."""
        return [*self.coverage_misses(confidence), *self.width_misses()]

    def coverage_misses(self, confidence: float = 0.999) -> list[str]:
        """Say which intervals hold the truth too seldom."""
        return [
            f"{self.scenario.name}: {tally.label} covers {tally.coverage:.1%}"
            for tally in self.tallies
            if tally.coverage_verdict(self.least_coverage, confidence) is Verdict.MISSED
        ]

    def width_misses(self, most: float = MOST_WIDTH) -> list[str]:
        """Say which intervals are too wide."""
        return [
            f"{self.scenario.name}: {tally.label} is {tally.width_ratio:.2f} oracles wide"
            for tally in self.tallies
            if tally.width_ratio > most
        ]
