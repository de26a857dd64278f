"""The default treatment, rule by rule. The readings are invented unless a source is named."""

from __future__ import annotations

import random

import pytest
from stat_data import codes, load

from gaugelink.statistics.known_scatter import ShownScatter
from gaugelink.statistics.treatment import treat

NIST = load("stat_grubbs.json")
TAKEN = [NIST["values"][i] for i in NIST["taken_order"]]
ROSNER = load("stat_esd.json")

# A gross outlier of whole millimetres in each of them.
FEW = [[], [12.0], [12.0, 15.0], [12.0, 12.0, 15.0], [12.01, 12.0, 12.01, 15.0]]


@pytest.mark.parametrize("values", FEW, ids=len)
def test_fewer_than_five_readings_are_never_marked(values: list[float]) -> None:
    assert treat(values, 0.01).marks == ()


# The limit is three steps for a caliper, 0.005 mm for a micrometer.
SPREADS = [
    ([12.00, 12.02, 12.03], 0.01, False),
    ([12.00, 12.02, 12.04], 0.01, True),
    ([12.00, 12.04], 0.01, True),
    ([12.00, 12.01, 12.01, 12.03], 0.01, False),
    ([12.00, 12.01, 12.01, 12.04], 0.01, True),
    ([0.120, 0.124, 0.123], 0.001, False),
    ([0.120, 0.125, 0.123], 0.001, False),
    ([0.120, 0.126, 0.123], 0.001, True),
    ([0.1200, 0.1245, 0.1210], 0.0001, False),
    ([0.1200, 0.1252, 0.1210], 0.0001, True),
    ([12.0], 0.01, False),
    ([], 0.01, False),
]


@pytest.mark.parametrize(("values", "step", "wide"), SPREADS)
def test_wide_spread_of_a_few_readings_asks_for_two_more(
    values: list[float], step: float, wide: bool
) -> None:
    assert codes(treat(values, step).advice) == (["spread_wide"] if wide else [])


def test_nist_uranium_example_rejects_its_outlier() -> None:
    treatment = treat(TAKEN, 0.01)
    (mark,) = treatment.marks
    assert (TAKEN[mark.index], mark.value_mm) == (NIST["outlier"], NIST["outlier"])
    assert treatment.rejected == {mark.index}
    assert mark.test == "grubbs-two-sided"
    assert mark.statistic == pytest.approx(NIST["statistic"], abs=1e-4)
    assert mark.critical_value == pytest.approx(2.274, abs=2e-3)  # ISO 5725-2, n = 8, 1 %
    assert mark.alpha == 0.01
    assert treatment.advice == ()


def test_the_same_values_taken_in_rising_order_are_a_drift() -> None:
    treatment = treat(sorted(TAKEN), 0.01)
    assert treatment.rejected == frozenset()
    assert codes(treatment.advice) == ["drift"]
    assert [mark.value_mm for mark in treatment.marks] == [NIST["outlier"]]


@pytest.mark.parametrize("n", range(5, 31))
@pytest.mark.parametrize("digits", [1, 2])
def test_one_or_two_digits_off_is_never_even_marked(n: int, digits: int) -> None:
    values = [12.00] * n
    values[n // 2] += digits * 0.01
    assert treat(values, 0.01).marks == ()


@pytest.mark.parametrize("n", range(5, 31))
def test_three_steps_off_equal_readings_is_rejected(n: int) -> None:
    values = [12.00] * n
    values[n // 2] = 12.03
    assert treat(values, 0.01).rejected == {n // 2}


def test_guard_counts_from_the_mean_of_the_rest() -> None:
    # Mean of the rest 12.001: 12.03 is 2.9 steps away, 11.97 is 3.1.
    rest = [12.00, 12.00, 12.01, *[12.00] * 7]
    assert treat([*rest, 12.03], 0.01).rejected == frozenset()
    assert treat([*rest, 11.97], 0.01).rejected == {10}


def test_straggler_is_marked_and_kept() -> None:
    # G = 2.19, between the 5 % and 1 % values of ISO 5725-2 for n = 8, 2.126 and 2.274.
    treatment = treat([12.00, 12.02, 11.99, 12.01, 12.08, 12.03, 12.02, 12.00], 0.01)
    (mark,) = treatment.marks
    assert (mark.index, mark.alpha, mark.rejected) == (4, 0.05, False)
    assert 2.126 < mark.statistic < 2.274
    assert treatment.rejected == frozenset()
    assert treatment.advice == ()


# A hand that the rest of the job shows to be steady.
STEADY = ShownScatter(std=0.0005, dof=20.0)
PAIRS = [
    [12.00, 12.50, 12.01, 12.00, 12.40, 12.01],  # together, each hides the other
    [12.00, 12.50, 12.01, 12.00, 11.50, 12.01, 12.00],  # one on each side
    [12.00, 12.30, 12.01, 12.00, 14.00, 12.01, 12.00, 12.01],  # one far, one farther
    [12.00, 12.10, 12.00, 12.00, 12.20],
]


@pytest.mark.parametrize("values", PAIRS)
def test_two_beyond_what_the_gauge_repeats_to_are_left_out_together(values: list[float]) -> None:
    treatment = treat(values, 0.01, others=STEADY)
    assert treatment.rejected == {1, 4}
    assert {mark.test for mark in treatment.marks} == {"known-scatter-two-sided"}
    assert treatment.advice == ()


DOUBTFUL_PAIRS = [
    [12.00, 12.50, 12.01, 12.00, 12.50, 12.01],  # the two confirm each other
    [12.00, 11.50, 12.01, 12.00, 11.50, 12.01, 12.00],
    # The rest scatters by more than the gauge is known to.
    [12.00, 12.90, 12.01, 12.05, 14.00, 12.01, 12.05, 12.01],
    [12.00, 12.90, 12.01, 12.06, 11.00, 12.01, 12.06],
]


@pytest.mark.parametrize("values", DOUBTFUL_PAIRS)
def test_two_suspects_reject_nothing_and_are_both_named(values: list[float]) -> None:
    treatment = treat(values, 0.01)
    assert treatment.rejected == frozenset()
    assert [mark.index for mark in treatment.marks] == [1, 4]
    assert codes(treatment.advice) == ["two_suspects"]
    assert "2 and 5" in treatment.advice[0].text


# Two of five are apart beyond 3.719 sqrt(1 + 1/3) = 4.294 times what is known of the gauge.
KNOWN = [
    (0.001, None, 0.006, False),  # 4.294 of the hand's 0.0015 mm are 0.00644 mm
    (0.001, None, 0.007, True),
    (0.0001, None, 0.0064, False),  # however fine the step
    (0.0001, None, 0.0065, True),
    (0.0001, 0.0002, 0.0064, False),  # or the gauge
    (0.0001, 0.0002, 0.0065, True),
    (0.002, None, 0.008, False),  # of the step, where that is more: 0.00859 mm
    (0.002, None, 0.009, True),
    (0.001, 0.003, 0.012, False),  # of the gauge, where that is more: 0.01288 mm
    (0.001, 0.003, 0.013, True),
]


@pytest.mark.parametrize(("step", "scatter", "off", "apart"), KNOWN)
def test_no_gauge_is_known_to_repeat_better_than_the_hand_and_the_display(
    step: float, scatter: float | None, off: float, apart: bool
) -> None:
    values = [0.120, 0.120 + off, 0.120, 0.120, 0.120 - off]
    treatment = treat(values, step, scatter_mm=scatter, others=STEADY)
    assert treatment.rejected == ({1, 4} if apart else set())


@pytest.mark.parametrize("n", range(5, 15))
def test_the_test_alone_rejects_at_most_one_of_five_to_fourteen(n: int) -> None:
    # In steps of a thousandth: the rest scatters by ten of them, as no gauge does.
    values = [12.00, 12.01, 12.02] * (n // 3 + 1)
    for wrong in ([1], [1, 3], [0, 1, 3]):
        sample = values[:n]
        for rank, i in enumerate(wrong, start=1):
            sample[i] += rank * 1.0
        assert len(treat(sample, 0.001).rejected) <= 1


def test_drift_rejects_nothing() -> None:
    creeping = [12.00, 12.02, 12.03, 12.05, 12.06, 12.08, 12.60]
    treatment = treat(creeping, 0.01)
    assert treatment.rejected == frozenset()
    assert codes(treatment.advice) == ["drift"]
    shuffled = [creeping[i] for i in (3, 0, 5, 6, 1, 4, 2)]
    assert treat(shuffled, 0.01).rejected == {3}


def test_drift_and_two_suspects_are_both_said() -> None:
    treatment = treat([12.00, 12.01, 12.02, 12.03, 12.04, 12.05, 12.06, 13.0, 13.1], 0.01)
    assert codes(treatment.advice) == ["drift", "two_suspects"]
    assert treatment.rejected == frozenset()


def test_fifteen_readings_and_more_go_through_generalized_esd() -> None:
    values = [12.00, 12.01, 12.02, 12.01, 12.00] * 3
    values[2], values[9], values[13] = 12.61, 12.60, 12.62
    treatment = treat(values, 0.01)
    assert treatment.rejected == {2, 9, 13}
    assert {mark.test for mark in treatment.marks} == {"generalized-esd"}
    assert [mark.index for mark in treatment.marks] == [2, 9, 13]
    assert treatment.advice == ()


def test_rosner_values_are_marked_as_a_group_but_not_rejected_at_one_percent() -> None:
    # R_3 = 3.179 exceeds lambda_3 at 5 %, 3.143, and not at 1 %.
    values = ROSNER["values"].copy()
    random.Random(1).shuffle(values)
    treatment = treat(values, 0.01)
    assert {mark.value_mm for mark in treatment.marks} == set(ROSNER["outliers"])
    assert treatment.rejected == frozenset()
    for mark in treatment.marks:
        assert mark.statistic == pytest.approx(3.179, abs=1e-3)
        assert mark.critical_value == pytest.approx(3.143, abs=1e-3)
        assert mark.alpha == 0.05


def test_long_series_may_have_rejected_and_kept_marks_side_by_side() -> None:
    values = [12.00, 12.03, 11.97, 12.02, 11.98, 12.01, 11.99, 12.00, 12.02, 11.98] * 2
    values[4], values[11] = 13.0, 12.08
    treatment = treat(values, 0.01)
    assert [(m.index, m.rejected, m.alpha) for m in treatment.marks] == [
        (4, True, 0.01),
        (11, False, 0.05),
    ]


@pytest.mark.parametrize(
    ("n", "most", "of_one_more"),
    # One more than may be rejected hides the others in a short series, not in a long one.
    [(15, 3, 0), (20, 4, 0), (49, 9, 9), (50, 10, 10), (80, 10, 10), (200, 10, 10)],
)
def test_the_test_alone_rejects_no_more_than_a_fifth_and_ten(
    n: int, most: int, of_one_more: int
) -> None:
    values = [12.00, 12.01, 12.02, 12.01] * n
    for wrong, expected in ((most, most), (most + 1, of_one_more)):
        sample = values[:n]
        for i in random.Random(n).sample(range(n), wrong):
            sample[i] = 13.00
        assert len(treat(sample, 0.001).rejected) == expected


@pytest.mark.parametrize("n", [3, 5, 8, 14, 15, 40])
def test_equal_readings_are_never_marked(n: int) -> None:
    treatment = treat([12.34] * n, 0.01)
    assert treatment.marks == ()
    assert treatment.advice == ()


def test_every_mark_carries_a_statistic_above_its_critical_value() -> None:
    samples = [TAKEN, *PAIRS, ROSNER["values"], [12.0] * 6 + [12.5]]
    marks = [mark for sample in samples for mark in treat(sample, 0.01, others=STEADY).marks]
    assert len(marks) >= 12
    assert all(mark.statistic > mark.critical_value for mark in marks)
