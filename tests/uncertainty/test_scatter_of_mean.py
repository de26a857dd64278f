"""The scatter of a mean where a check of the gauge is known: the moderated t."""

from __future__ import annotations

import math

import numpy as np
import pytest
from measurand_bench import check, record, summarised

from gaugelink.model import GaugeKind
from gaugelink.statistics.student import t_quantile
from gaugelink.uncertainty.estimate import Shape
from gaugelink.uncertainty.scatter import (
    DOF_BETWEEN,
    checked_repeatability,
    repeats_to_mm,
    scatter_of_mean,
)

VALUES = (1.500, 1.504, 1.508)  # s = 0.004
KNOWN = record(checks=(check(0.003, n=11),))


def test_without_a_check_it_is_that_of_the_readings() -> None:
    own = scatter_of_mean(summarised("depth", VALUES, step_mm=0.001), None)
    assert (own.u, own.dof) == (pytest.approx(0.004 / math.sqrt(3)), 2.0)
    assert (own.label, own.kind, own.shape) == ("depth repeatability", "A", Shape.STUDENT)


def test_a_check_adds_what_it_foretells() -> None:
    pooled = scatter_of_mean(summarised("depth", VALUES, step_mm=0.001), KNOWN)
    known = 1.0 / (1.0 / 10.0 + 1.0 / DOF_BETWEEN)
    variance = (known * 0.003**2 + 2.0 * 0.004**2) / (known + 2.0)
    assert pooled.u == pytest.approx(math.sqrt(variance / 3.0))
    assert pooled.dof == pytest.approx(2.0 + known)


def test_readings_that_scatter_far_more_speak_for_themselves() -> None:
    rough = summarised("depth", (1.50, 1.55, 1.60), step_mm=0.001)
    assert scatter_of_mean(rough, KNOWN) == scatter_of_mean(rough, None)


def test_an_allowance_for_doubt_is_kept() -> None:
    values = [12.000, 12.012, 11.995, 12.05, 12.004, 12.008, 11.992, 12.001]
    doubtful = summarised("depth", values, step_mm=0.001)
    rough = record(checks=(check(0.0071, n=11),))
    assert doubtful.n_used == 7
    allowed = doubtful.u_mean_mm**2 - doubtful.std_mm**2 / 7
    assert allowed > 0.0
    assert scatter_of_mean(doubtful, rough).u ** 2 > allowed


def test_a_single_reading_is_refused() -> None:
    with pytest.raises(ValueError, match="no scatter"):
        scatter_of_mean(summarised("depth", (1.5,)), KNOWN)


def test_a_check_that_never_moved_hides_its_step() -> None:
    still = record(checks=(check(0.0),))
    found = checked_repeatability(0.01, still)
    assert found is not None
    assert found.std_mm == pytest.approx(0.01 / math.sqrt(12))
    assert checked_repeatability(0.01, record()) is None


def test_a_gauge_repeats_to_its_step_its_kind_or_its_check() -> None:
    caliper = GaugeKind.CALIPER
    assert repeats_to_mm(caliper, 0.01) == 0.01
    assert repeats_to_mm(caliper, 0.001) == 0.01
    assert repeats_to_mm(caliper, 0.0127) == 0.0127
    assert repeats_to_mm(caliper, 0.01, record(checks=(check(0.03),))) == 0.03
    assert repeats_to_mm(GaugeKind.MICROMETER, 0.001) == 0.001


def covered(factor: float, rng: np.random.Generator, n: int = 3, trials: int = 3000) -> float:
    """Share of the intervals that hold the truth where a part scatters ``factor`` of the check."""
    inside = 0
    for _ in range(trials):
        seen = float(rng.standard_normal(10).std(ddof=1))
        values = factor * rng.standard_normal(n)
        summary = summarised("depth", (0.01 * values + 5.0).tolist(), step_mm=1e-6)
        scatter = scatter_of_mean(summary, record(checks=(check(0.01 * seen, n=10),)))
        inside += abs(summary.mean_mm - 5.0) <= t_quantile(0.975, scatter.dof) * scatter.u
    return inside / trials


def test_over_occasions_whose_scatter_differs_it_covers_what_it_says() -> None:
    """ln of the factor spread over +-0.7, a standard deviation of 0.4 as is assumed."""
    rng = np.random.default_rng(4)
    shares = [covered(math.exp(x), rng, trials=600) for x in (-0.6, -0.3, 0.0, 0.3, 0.6)]
    assert sum(shares) / 5 > 0.95 - 3.5 * math.sqrt(0.05 * 0.95 / 3000)
    assert min(shares) > 0.88
