"""The type A uncertainty of the mean: s / sqrt(n), and the two allowances, by simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats
from stat_data import load, series

from gaugelink.statistics.outlier_method import grubbs_critical
from gaugelink.statistics.student import t_quantile
from gaugelink.statistics.summary import summarise, u_of_mean_mm
from gaugelink.uncertainty.measurand import DITHERED_STEPS

FINE_MM = 1e-5


def test_table_1_of_the_gum() -> None:
    gum = load("stat_type_a.json")  # 4.4.3, the data from memory
    summary = summarise(series(gum["values"], 0.01))
    figures = (summary.mean_mm, summary.std_mm, summary.u_mean_mm)
    assert summary.dof == 19
    for key, tolerance in (("published", 5e-4), ("recomputed", 1e-12)):
        expected = [gum[key][name] for name in ("mean", "std", "u_mean")]
        assert figures == pytest.approx(expected, abs=tolerance)


# A reading off by 0.05 and by 0.80: both are outliers at 1 %, the first not at 0.1 %.
def test_only_a_doubtful_rejection_costs_uncertainty() -> None:
    rest = [12.000, 12.012, 11.995, 12.004, 12.008, 11.992, 12.001]
    doubtful = summarise(series([*rest[:3], 12.05, *rest[3:]], 0.001))
    certain = summarise(series([*rest[:3], 12.80, *rest[3:]], 0.001))
    assert [m.rejected for m in (*doubtful.marks, *certain.marks)] == [True, True]
    assert doubtful.std_mm == certain.std_mm
    plain = certain.std_mm / math.sqrt(7)
    moved = doubtful.mean_all_mm - doubtful.mean_mm
    assert certain.u_mean_mm == pytest.approx(plain)
    assert doubtful.u_mean_mm == pytest.approx(math.hypot(plain, moved))
    assert doubtful.marks[0].reason.endswith(
        "so it is left out and the uncertainty allows for the doubt."
    )


def test_two_equal_readings_keep_a_tenth_of_a_step() -> None:
    assert u_of_mean_mm(0.0, 2, resolution_mm=0.01) == pytest.approx(0.001)
    assert u_of_mean_mm(0.0, 3, resolution_mm=0.01) == 0.0
    assert u_of_mean_mm(0.05, 2, resolution_mm=0.01) == pytest.approx(0.05 / math.sqrt(2))


@pytest.mark.parametrize(("n", "least_gain"), [(5, 0.45), (8, 0.30), (12, 0.15)])
def test_chance_rejections_of_clean_series_are_allowed_for(n: int, least_gain: float) -> None:
    # Grubbs at 1 % picks the series here; the summary judges the truth, which is zero.
    rng = np.random.default_rng(n)
    x = rng.standard_normal((60_000, n))
    deviation = abs(x - x.mean(1, keepdims=True)).max(1) / x.std(1, ddof=1)
    plain = allowed = rejected = 0
    for values in x[deviation > grubbs_critical(n, 0.01)]:
        summary = summarise(series(values.tolist(), FINE_MM))
        if summary.n_used == n:
            continue  # it drifts, or two stand apart
        rejected += 1
        k = t_quantile(0.975, summary.dof)
        plain += abs(summary.mean_mm) <= k * summary.std_mm / math.sqrt(summary.n_used)
        allowed += abs(summary.mean_mm) <= k * summary.u_mean_mm
    assert rejected > 400
    assert (allowed - plain) / rejected > least_gain
    assert allowed / rejected > 0.78


def covered_share(n: int, sigma: float, trials: int) -> float:
    """Share of intervals, scatter (Student) plus step (rectangular), that hold the truth.

    The truth lies anywhere between two steps of 1, the readings are rounded to them.
    """
    rng = np.random.default_rng([n, round(100 * sigma)])
    truth = rng.uniform(-0.5, 0.5, trials)
    readings = np.round(truth[:, None] + sigma * rng.standard_normal((trials, n)))
    std, off = readings.std(1, ddof=1), abs(readings.mean(1) - truth)
    inside = 0.0
    for s in set(std.tolist()):
        u = u_of_mean_mm(s, n, resolution_mm=1.0)
        errors = off[std == s]
        inside += _held(errors, s, u, n - 1).sum()
    return inside / trials


def _held(errors: np.ndarray, std: float, u: float, dof: int) -> np.ndarray:
    if u == 0.0:
        return errors <= 0.475
    if std >= DITHERED_STEPS:  # then the uncertainty stage leaves the step out
        return errors <= t_quantile(0.975, dof) * u
    return _probability(errors, u, dof) <= 0.95


def _probability(error: np.ndarray, u: float, dof: int) -> np.ndarray:
    """P(abs(u T + R) <= error), R rectangular over one step."""

    def primitive(y: np.ndarray) -> np.ndarray:
        rest = (
            -0.5 / np.pi * np.log1p(y * y)
            if dof == 1
            else stats.t.pdf(y, dof) * (dof + y * y) / (dof - 1)
        )
        return y * stats.t.cdf(y, dof) + rest

    def cdf(x: np.ndarray) -> np.ndarray:
        return u * (primitive((x + 0.5) / u) - primitive((x - 0.5) / u))

    return cdf(error) - cdf(-error)


@pytest.mark.parametrize("n", [2, 3, 5, 10])
@pytest.mark.parametrize("sigma", [0.0, 0.1, 0.3, 0.6, 1.0, 2.0])
def test_digitised_readings_do_not_understate(n: int, sigma: float) -> None:
    # Exactly 0.95 with no scatter at all; 3.5 standard deviations of the simulation.
    assert covered_share(n, sigma, 6000) > 0.95 - 3.5 * math.sqrt(0.05 * 0.95 / 6000)
