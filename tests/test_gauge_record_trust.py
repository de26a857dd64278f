"""What every result says of a gauge whose check is overdue or was failed."""

from __future__ import annotations

import pytest
from gauge_samples import check, length, record

from gaugelink.gauge_record import FAILED, OVERDUE, CheckVerdict, gauge_advice


def codes(*checks: object, age_days: float | None, interval: int = 365) -> list[str]:
    known = record(checks=tuple(checks), check_interval_days=interval)
    return [advice.code for advice in gauge_advice(known, age_days)]


@pytest.mark.parametrize(
    ("age_days", "interval", "expected"),
    [
        (0.0, 365, []),
        (364.9, 365, []),
        (365.0, 365, []),
        (365.1, 365, [OVERDUE]),
        (31.0, 30, [OVERDUE]),
        (None, 365, [OVERDUE]),
    ],
)
def test_a_check_is_overdue_after_its_interval(
    age_days: float | None, interval: int, expected: list[str]
) -> None:
    checks = [] if age_days is None else [check()]
    assert codes(*checks, age_days=age_days, interval=interval) == expected


@pytest.mark.parametrize(
    ("verdict", "expected"),
    [(CheckVerdict.PASS, []), (CheckVerdict.UNDECIDED, []), (CheckVerdict.FAIL, [FAILED])],
)
def test_only_a_failure_is_warned_of(verdict: CheckVerdict, expected: list[str]) -> None:
    assert codes(check(length(5.0, verdict)), age_days=1.0) == expected


def test_failed_and_overdue_are_both_said_length_by_length() -> None:
    failed = check(length(1.0, CheckVerdict.FAIL, bias_mm=-0.034), length(9.0, CheckVerdict.FAIL))
    first, second, overdue = gauge_advice(record(checks=(failed,)), 400.0)
    assert (first.code, second.code, overdue.code) == (FAILED, FAILED, OVERDUE)
    for word in ("caliper usb-caliper", "at 1 mm", "-0.0340 mm", "±0.02 mm"):
        assert word in first.text
    assert "at 9 mm" in second.text
    assert "400 days ago" in overdue.text
    assert "never been checked" in gauge_advice(record(), None)[0].text
