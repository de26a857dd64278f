"""The tests that may be chosen, and readings of a sweep. Readings are invented unless sourced."""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from stat_data import codes, series

from gaugelink.errors import StatisticsError
from gaugelink.model import Seek
from gaugelink.statistics.moments import WRONG_SIDES, Side
from gaugelink.statistics.outlier_method import OutlierMethod
from gaugelink.statistics.summary import summarise
from gaugelink.statistics.treatment import treat

STEP_MM = 0.01
GRUBBS, DIXON, ESD, NONE = OutlierMethod
SHORT = [12.01, 12.00, 12.01, 12.02, 12.01, 12.90]  # one far above
SUNK = [12.01, 12.00, 12.01, 12.02, 12.01, 11.12]  # one far below
NAMES = {GRUBBS: "grubbs", DIXON: "dixon-r10", ESD: "grubbs"}


@pytest.mark.parametrize("method", [GRUBBS, DIXON, ESD])
def test_every_test_finds_a_gross_reading_and_names_itself(method: OutlierMethod) -> None:
    treatment = treat(SHORT, STEP_MM, method=method)
    (mark,) = treatment.marks
    assert treatment.rejected == {5}
    assert mark.test == f"{NAMES[method]}-two-sided"
    assert mark.statistic > mark.critical_value
    assert mark.reason.startswith("Reading 6 (12.90 mm) lies 0.89 mm above the mean of the 5")


def test_none_marks_nothing_and_still_sees_a_drift() -> None:
    assert treat(SHORT, STEP_MM, method=NONE).marks == ()
    drifting = [12.00, 12.02, 12.04, 12.06, 12.08, 12.90]
    treatment = treat(drifting, STEP_MM, method=NONE)
    assert (treatment.marks, codes(treatment.advice)) == ((), ["drift"])


def test_dixon_names_its_ratio() -> None:
    for n, ratio in ((5, "r10"), (8, "r11"), (11, "r21"), (14, "r22")):
        values = [12.00, 12.01] * 7
        values[2] = 12.60
        (mark,) = treat(values[:n], STEP_MM, method=DIXON).marks
        assert mark.test == f"dixon-{ratio}-two-sided"


def test_dixon_refuses_more_than_its_table_holds() -> None:
    with pytest.raises(StatisticsError, match="at most 30 readings, not 31") as caught:
        treat([12.00, 12.01] * 15 + [12.02], STEP_MM, method=DIXON)
    assert caught.value.hint


def test_esd_may_reject_two_of_ten_where_the_default_asks_to_measure_again() -> None:
    # In steps of a tenth: the rest scatters more than any gauge of this step does.
    values = [12.00, 12.50, 12.01, 12.00, 12.50, 12.01, 12.00, 12.02, 12.01, 12.00]
    assert treat(values, STEP_MM / 10).rejected == frozenset()
    assert treat(values, STEP_MM / 10, method=ESD).rejected == {1, 4}
    assert codes(treat(values[:9], STEP_MM / 10, method=ESD).advice) == ["two_suspects"]


def test_default_is_grubbs_on_either_side() -> None:
    assert treat(SHORT, STEP_MM) == treat(SHORT, STEP_MM, method=GRUBBS, side=Side.EITHER)
    assert summarise(series(SHORT, STEP_MM)) == summarise(
        series(SHORT, STEP_MM), treatment=GRUBBS, sought=Seek.SETTLED
    )


@pytest.mark.parametrize("method", [GRUBBS, DIXON, ESD])
@pytest.mark.parametrize(
    ("values", "wrong", "right"), [(SUNK, Side.LOW, Side.HIGH), (SHORT, Side.HIGH, Side.LOW)]
)
def test_a_sweep_rejects_on_its_wrong_side_only(
    method: OutlierMethod, values: list[float], wrong: Side, right: Side
) -> None:
    rejecting = treat(values, STEP_MM, method=method, side=wrong)
    assert rejecting.rejected == {5}
    assert rejecting.marks[0].test.endswith("-one-sided")
    keeping = treat(values, STEP_MM, method=method, side=right)
    assert [(mark.index, mark.rejected) for mark in keeping.marks] == [(5, False)]
    assert keeping.marks[0].reason.endswith(
        "but a sweep hardly ever errs on that side, so it is kept."
    )


def test_the_bore_keeps_the_one_reading_that_found_the_diameter() -> None:
    readings = series(SHORT, STEP_MM)
    bore = summarise(readings, sought=Seek.MAXIMUM)
    assert (bore.n_used, bore.mean_mm) == (6, bore.mean_all_mm)
    assert summarise(readings, sought=Seek.MINIMUM).n_used == 5


def test_one_sided_finds_what_two_sided_keeps() -> None:
    # G = 2.25 of eight lies between the one-sided and the two-sided 1 % value, 2.221 and
    # 2.274 (ASTM E178 and ISO 5725-2).
    values = [12.00, 11.98, 12.01, 11.99, 11.91, 11.98, 11.97, 12.00]
    assert [m.rejected for m in treat(values, STEP_MM).marks] == [False]
    (mark,) = treat(values, STEP_MM, side=Side.LOW).marks
    assert mark.rejected
    assert mark.critical_value == pytest.approx(2.221, abs=1e-3)


def test_dixon_is_one_sided_on_a_side() -> None:
    # r10 = 0.66 of seven lies between the one-sided and the two-sided 1 % value, 0.637
    # and 0.681 (computed; the first is in Dixon's table).
    values = [12.00, 12.01, 12.02, 12.03, 12.034, 12.02, 11.934]
    assert [m.rejected for m in treat(values, 0.001, method=DIXON).marks] == [False]
    (mark,) = treat(values, 0.001, method=DIXON, side=Side.LOW).marks
    assert mark.rejected
    assert mark.statistic == pytest.approx(0.66)
    assert mark.critical_value == pytest.approx(0.637, abs=1e-3)


@pytest.mark.parametrize(
    "side",
    [pytest.param(s, marks=() if s is Side.EITHER else pytest.mark.campaign) for s in Side],
)
@pytest.mark.parametrize("method", [GRUBBS, DIXON, ESD])
def test_a_clean_series_loses_a_reading_about_once_in_a_hundred(
    method: OutlierMethod, side: Side
) -> None:
    rng = random.Random(f"{method} {side}")
    trials = 2000
    alarms = 0
    for _ in range(trials):
        values = [12.0 + 0.05 * rng.gauss(0.0, 1.0) for _ in range(8)]
        alarms += bool(treat(values, 1e-4, method=method, side=side).rejected)
    assert 0.001 < alarms / trials < 0.019  # four standard deviations of 0.01 are 0.009


def test_each_way_of_seeking_has_its_wrong_side() -> None:
    assert {WRONG_SIDES[seek] for seek in Seek} == set(Side)


COUNT = st.integers(0, 6) | st.integers(0, 6) | st.integers(-60, 60)


@given(
    counts=st.lists(COUNT, min_size=1, max_size=24),
    method=st.sampled_from(OutlierMethod),
    side=st.sampled_from(Side),
)
@settings(max_examples=examples(150), deadline=None)
def test_no_choice_rejects_below_the_stated_number_or_more_than_stated(
    counts: list[int], method: OutlierMethod, side: Side
) -> None:
    values: Sequence[float] = [12.0 + count * STEP_MM for count in counts]
    treatment = treat(values, STEP_MM, method=method, side=side)
    n, rejected = len(values), treatment.rejected
    by_gauge = [mark for mark in treatment.marks if mark.test.startswith("known-scatter")]
    most = n // 2 if by_gauge else method.most_rejected(n)
    assert len(rejected) <= (0 if n < 5 or method is NONE else most)
    assert not rejected or n - len(rejected) >= 3
    assert not treatment.advice or not rejected
    centre = sum(x for i, x in enumerate(values) if i not in rejected) / (n - len(rejected))
    assert all(side.beyond(values[i] - centre) > 2.9 * STEP_MM for i in rejected)
    for mark in treatment.marks:
        assert mark.reason.startswith(f"Reading {mark.index + 1} (")
        assert mark.reason.endswith(".")
        assert mark.statistic > mark.critical_value
