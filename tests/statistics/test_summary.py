"""A series summarised: figures, refusals, and what never changes them."""

from __future__ import annotations

import math
import sys
from typing import Any

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from stat_data import codes, load, series, strd_values

from gaugelink.errors import StatisticsError
from gaugelink.model import Series
from gaugelink.statistics.student import t_quantile
from gaugelink.statistics.summary import summarise

STRD = load("stat_strd.json")
COUNTS = st.lists(st.integers(0, 6) | st.integers(-60, 60), min_size=2, max_size=14)
EXAMPLES = settings(max_examples=examples(150), deadline=None)


@pytest.mark.parametrize("entry", STRD.values(), ids=STRD.keys())
def test_strd_sets_are_summarised_to_their_certified_digits(entry: dict[str, Any]) -> None:
    # Tolerance for s: the rounding of the stored decimals, see test_moments.
    summary = summarise(series(strd_values(entry), float(entry["digital_step"])))
    certified_mean, certified_std = float(entry["certified_mean"]), float(entry["certified_std"])
    tolerance = sys.float_info.epsilon * abs(certified_mean) / certified_std + 5e-15
    assert summary.n_used == summary.n_taken
    assert summary.mean_mm == summary.mean_all_mm == pytest.approx(certified_mean, rel=2e-15)
    assert summary.std_mm == pytest.approx(certified_std, rel=tolerance)


def test_confidence_limits_of_the_mean() -> None:
    nist = load("stat_confidence.json")
    n, s, p = nist["n"], nist["std"], 1.0 - nist["alpha"] / 2.0
    assert t_quantile(p, n - 1) == pytest.approx(nist["t"], abs=5e-5)
    half_width = t_quantile(p, n - 1) * s / math.sqrt(n)
    assert nist["mean"] - half_width == pytest.approx(nist["low"], abs=1e-6)
    assert nist["mean"] + half_width == pytest.approx(nist["high"], abs=1e-6)


def test_figures_by_hand() -> None:
    # Deviations -0.01, 0, 0.01: s = 0.01, u = 0.01/sqrt(3).
    summary = summarise(series([12.00, 12.01, 12.02], 0.01))
    assert (summary.measurand, summary.gauge_id) == ("bore", "test")
    assert (summary.n_taken, summary.n_used, summary.dof) == (3, 3, 2)
    assert summary.mean_mm == pytest.approx(12.01, rel=1e-15)
    assert summary.std_mm == pytest.approx(0.01, rel=1e-12)
    assert summary.u_mean_mm == pytest.approx(0.01 / math.sqrt(3.0), rel=1e-12)
    assert summary.spread_mm == pytest.approx(0.02, rel=1e-12)
    assert summary.advice == ()


def test_rejected_reading_leaves_the_mean_but_not_the_series() -> None:
    nist = load("stat_grubbs.json")
    values = [nist["values"][i] for i in nist["taken_order"]]
    summary = summarise(series(values, 0.01))
    assert (summary.n_taken, summary.n_used, summary.dof) == (8, 7, 6)
    assert [values[mark.index] for mark in summary.marks] == [nist["outlier"]]
    # Recomputed with exact fractions from the published data.
    assert summary.mean_all_mm == pytest.approx(206.43375, rel=1e-14)
    assert summary.mean_mm == pytest.approx(200.84285714285713, rel=1e-14)
    assert summary.std_mm == pytest.approx(1.2023548323424063, rel=1e-12)
    assert summary.spread_mm == pytest.approx(202.18 - 199.31, rel=1e-12)


def test_kept_mark_stays_in_the_mean() -> None:
    summary = summarise(series([12.00, 12.02, 11.99, 12.01, 12.08, 12.03, 12.02, 12.00], 0.01))
    assert [mark.rejected for mark in summary.marks] == [False]
    assert summary.n_used == 8
    assert summary.mean_mm == summary.mean_all_mm


def test_one_reading_has_no_scatter() -> None:
    summary = summarise(series([12.0], 0.01))
    assert (summary.n_taken, summary.n_used, summary.dof) == (1, 1, 0)
    assert summary.std_mm is None
    assert summary.u_mean_mm is None
    assert (summary.mean_mm, summary.spread_mm) == (12.0, 0.0)
    assert codes(summary.advice) == ["single_reading"]


@pytest.mark.parametrize("n", [3, 5, 12])
def test_equal_readings_have_zero_u_and_say_that_the_display_is_coarse(n: int) -> None:
    summary = summarise(series([12.34] * n, 0.01))
    assert (summary.mean_mm, summary.std_mm, summary.u_mean_mm) == (12.34, 0.0, 0.0)
    assert summary.dof == n - 1
    assert summary.resolution_mm == 0.01
    assert codes(summary.advice) == ["coarse_display"]


def test_two_equal_readings_have_a_tenth_of_a_step() -> None:
    summary = summarise(series([12.34] * 2, 0.01))
    assert (summary.std_mm, summary.dof) == (0.0, 1)
    assert summary.u_mean_mm == pytest.approx(0.001)
    assert codes(summary.advice) == ["coarse_display"]


def test_readings_left_equal_by_a_rejection_are_coarse_too() -> None:
    summary = summarise(series([12.0, 12.0, 12.5, 12.0, 12.0, 12.0], 0.01))
    assert (summary.n_used, summary.u_mean_mm) == (5, 0.0)
    assert codes(summary.advice) == ["coarse_display"]
    assert "All 5 readings used" in summary.advice[0].text


def test_coarsest_step_counts_for_the_figures_and_for_the_guard() -> None:
    values = [12.00, 12.00, 12.03, 12.00, 12.00, 12.00]
    assert summarise(series(values, 0.01)).n_used == 5
    mixed = summarise(series(values, 0.01, 0.01, 0.01, 0.0127, 0.01, 0.01))
    assert mixed.resolution_mm == 0.0127
    assert mixed.n_used == 6


@pytest.mark.parametrize(
    ("broken", "message"),
    [
        (series([]), "No readings of bore."),
        (series([12.0, math.nan], 0.01), "Reading 2 of bore is not a finite number."),
        (series([math.inf], 0.01), "Reading 1 of bore is not a finite number."),
        (series([12.0], 0.0), "Reading 1 of bore has no usable display step."),
        (series([12.0, 12.0], 0.01, math.nan), "Reading 2 of bore has no usable display step."),
    ],
)
def test_what_cannot_be_summarised_is_refused(broken: Series, message: str) -> None:
    with pytest.raises(StatisticsError) as caught:
        summarise(broken)
    assert str(caught.value) == message
    assert caught.value.hint.endswith(".")


@given(counts=COUNTS, data=st.data())
@EXAMPLES
def test_order_changes_no_figure_of_all_readings(counts: list[int], data: st.DataObject) -> None:
    values = [12.0 + 0.01 * count for count in counts]
    before = summarise(series(values, 0.01))
    after = summarise(series(data.draw(st.permutations(values)), 0.01))
    assert after.mean_all_mm == before.mean_all_mm
    if "drift" not in codes(before.advice + after.advice):
        assert (after.mean_mm, after.std_mm) == (before.mean_mm, before.std_mm)


@given(counts=COUNTS, offset_mm=st.integers(1, 200))
@EXAMPLES
def test_a_constant_moves_the_means_only(counts: list[int], offset_mm: int) -> None:
    before = summarise(series([0.01 * count for count in counts], 0.01))
    after = summarise(series([offset_mm + 0.01 * count for count in counts], 0.01))
    assert after.n_used == before.n_used
    assert after.mean_mm == pytest.approx(before.mean_mm + offset_mm, rel=1e-12)
    assert after.mean_all_mm == pytest.approx(before.mean_all_mm + offset_mm, rel=1e-12)
    assert after.std_mm == pytest.approx(before.std_mm, rel=1e-9, abs=1e-12)
    assert after.spread_mm == pytest.approx(before.spread_mm, rel=1e-9, abs=1e-12)


@given(counts=COUNTS)
@EXAMPLES
def test_figures_scale_with_the_unit(counts: list[int]) -> None:
    values = [1.0 + 0.01 * count for count in counts]
    before = summarise(series(values, 0.01))
    after = summarise(series([25.4 * x for x in values], 0.254))
    assert after.n_used == before.n_used
    for name in ("mean_mm", "mean_all_mm", "std_mm", "spread_mm", "u_mean_mm"):
        expected = 25.4 * getattr(before, name)
        assert getattr(after, name) == pytest.approx(expected, rel=1e-9, abs=1e-12), name
