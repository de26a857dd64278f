"""Whether more readings help, and that following the advice costs no coverage."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from stat_data import series

from gaugelink.model import Summary
from gaugelink.statistics.enough import MOST_READINGS, more_readings, readings_needed
from gaugelink.statistics.student import t_quantile
from gaugelink.statistics.summary import summarise
from gaugelink.uncertainty.coverage import coverage_factor, welch_satterthwaite


def of(values: list[float]) -> Summary:
    return summarise(series(values, 0.001))


QUIET = of([12.000, 12.001, 12.002])
LOUD = of([12.000, 12.010, 12.020])


def test_quiet_readings_need_no_more() -> None:
    advice = more_readings(QUIET, 0.02)
    assert (advice.n_more, advice.text) == (
        0,
        "Enough readings: their scatter hardly matters.",
    )


def test_scatter_that_counts_asks_for_a_number() -> None:
    # s = 0.01: t_7 s / sqrt(8) = 0.00836, t_6 s / sqrt(7) = 0.00925, against 2/3 of 0.013
    advice = more_readings(LOUD, 0.013)
    assert advice.n_more == 5
    assert advice.text == "Take 5 more readings: then the scatter hardly matters."


def test_scatter_that_stays_is_said() -> None:
    advice = more_readings(LOUD, 0.001)
    assert advice.n_more == MOST_READINGS - 3
    assert advice.text.endswith("will a little even then.")
    settled = replace(LOUD, n_taken=10, n_used=10, u_mean_mm=0.01 / math.sqrt(10))
    assert more_readings(settled, 0.001).n_more == 0
    assert "find out why they differ" in more_readings(settled, 0.001).text


def test_planned_readings_come_first_and_the_number_is_settled_once() -> None:
    assert more_readings(LOUD, 1.0, n_planned=5).n_more == 2
    assert more_readings(of([12.0]), 1.0).n_more == 2
    assert more_readings(of([12.0]), 1.0).text == "Take 2 more readings, as planned."
    assert more_readings(LOUD, 0.001, n_planned=2).n_more > 0  # three are the fewest
    after = of([12.000, 12.010, 12.020, 12.030])
    assert more_readings(after, 0.001, n_planned=3).n_more == 0


@pytest.mark.parametrize(
    "values",
    [
        [12.000, 12.010, 12.020, 12.030, 12.040, 12.050],
        [12.00, 12.50, 12.01, 12.00, 12.50, 12.01],
    ],
    ids=["drift", "two suspects"],
)
def test_more_of_the_same_does_not_help_where_to_measure_again(values: list[float]) -> None:
    advice = more_readings(of(values), 0.0001)
    assert advice.n_more == 0
    assert "measure again" in advice.text


@pytest.mark.parametrize("u_b", [0.3, 0.6, 1.0, 2.0, 5.0])
def test_readings_needed_are_the_fewest_that_suffice(u_b: float) -> None:
    def part(n: int) -> float:
        return t_quantile(0.975, n - 1) / math.sqrt(n)

    n = readings_needed(1.0, u_b, 3)
    if n is None:
        assert part(MOST_READINGS) > 2 * u_b / 3
    else:
        assert part(n) <= 2 * u_b / 3
        assert n == 3 or part(n - 1) > 2 * u_b / 3


@pytest.mark.parametrize("n_planned", [3, 5])
@pytest.mark.parametrize("u_b", [0.4, 1.0])
def test_following_the_advice_keeps_the_coverage(n_planned: int, u_b: float) -> None:
    # Scatter 1, type B normal with u_b; the first-order interval at 95 %.
    rng = np.random.default_rng([n_planned, round(10 * u_b)])
    trials, covered = 1000, 0
    for _ in range(trials):
        values = rng.standard_normal(MOST_READINGS).tolist()
        first = summarise(series(values[:n_planned], 1e-4))
        n = n_planned + more_readings(first, u_b, n_planned=n_planned).n_more
        summary = summarise(series(values[:n], 1e-4))
        assert summary.u_mean_mm is not None
        dof = welch_satterthwaite([summary.u_mean_mm, u_b], [summary.dof, math.inf])
        half_width = coverage_factor(0.95, dof) * math.hypot(summary.u_mean_mm, u_b)
        covered += abs(summary.mean_mm + u_b * rng.standard_normal()) <= half_width
    # Nominal less 1 %, less three standard deviations of the simulation.
    assert covered / trials > 0.94 - 3 * math.sqrt(0.06 * 0.94 / trials)
