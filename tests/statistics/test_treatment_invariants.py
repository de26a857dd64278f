"""What must hold for any readings: order, shift, unit, repetition, and how few are left."""

from __future__ import annotations

from collections.abc import Sequence

from examples import examples
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from stat_data import codes

from gaugelink.statistics.moments import GUARD_STEPS, in_steps, mean
from gaugelink.statistics.treatment import treat

STEP_MM = 0.01
# Whole display steps: a quiet core, now and then something far off.
COUNT = st.integers(0, 6) | st.integers(0, 6) | st.integers(-60, 60)
SHORT = st.lists(COUNT, min_size=1, max_size=14)
ANY = st.lists(COUNT, min_size=1, max_size=24)
EXAMPLES = settings(max_examples=examples(200), deadline=None)


def as_mm(counts: Sequence[int], offset_mm: float = 12.0) -> list[float]:
    return [offset_mm + count * STEP_MM for count in counts]


def drifts(values: Sequence[float]) -> bool:
    return "drift" in codes(treat(values, STEP_MM).advice)


@given(counts=ANY, data=st.data())
@EXAMPLES
def test_order_does_not_change_which_values_are_marked(
    counts: list[int], data: st.DataObject
) -> None:
    values = as_mm(counts)
    shuffled = data.draw(st.permutations(values))
    assume(not drifts(values) and not drifts(shuffled))
    before, after = treat(values, STEP_MM), treat(shuffled, STEP_MM)
    assert sorted((m.value_mm, m.rejected, m.statistic) for m in before.marks) == sorted(
        (m.value_mm, m.rejected, m.statistic) for m in after.marks
    )
    assert codes(before.advice) == codes(after.advice)


@given(counts=SHORT, offset_mm=st.integers(-1000, 1000))
@EXAMPLES
def test_a_constant_changes_nothing(counts: list[int], offset_mm: int) -> None:
    before, after = treat(as_mm(counts), STEP_MM), treat(as_mm(counts, offset_mm), STEP_MM)
    assert before.rejected == after.rejected
    assert codes(before.advice) == codes(after.advice)


@given(counts=SHORT)
@EXAMPLES
def test_the_unit_changes_nothing(counts: list[int]) -> None:
    values = as_mm(counts)
    before = treat(values, STEP_MM)
    after = treat([25.4 * x for x in values], 25.4 * STEP_MM)
    assert before.rejected == after.rejected
    assert codes(before.advice) == codes(after.advice)


@given(counts=SHORT)
@EXAMPLES
def test_the_test_rejects_nothing_from_what_it_left_of_a_short_series(counts: list[int]) -> None:
    """What the gauge tells looks at all readings at once, and may see more in fewer."""
    values = as_mm(counts)
    rejected = rejected_by_test(values)
    used = [x for i, x in enumerate(values) if i not in rejected]
    assert not rejected or not rejected_by_test(used)


def rejected_by_test(values: Sequence[float]) -> set[int]:
    marks = treat(values, STEP_MM).marks
    return {m.index for m in marks if m.rejected and not m.test.startswith("known-scatter")}


@given(counts=ANY)
@EXAMPLES
def test_rejection_stays_within_its_rule(counts: list[int]) -> None:
    values = as_mm(counts)
    treatment = treat(values, STEP_MM)
    n, n_rejected = len(values), len(treatment.rejected)
    by_gauge = any(mark.test.startswith("known-scatter") for mark in treatment.marks)
    assert n_rejected <= (0 if n < 5 else n // 2 if by_gauge else 1 if n < 15 else n // 5)
    assert n_rejected == 0 or n - n_rejected >= 3
    used_mean = mean([x for i, x in enumerate(values) if i not in treatment.rejected])
    for mark in treatment.marks:
        assert mark.value_mm == values[mark.index]
        assert mark.statistic > mark.critical_value
        if mark.rejected:
            assert in_steps(abs(mark.value_mm - used_mean), STEP_MM) >= GUARD_STEPS


@given(counts=ANY)
@EXAMPLES
def test_advice_to_measure_again_rejects_nothing(counts: list[int]) -> None:
    treatment = treat(as_mm(counts), STEP_MM)
    assert not treatment.advice or not treatment.rejected
