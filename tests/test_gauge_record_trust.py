"""What every result says of a gauge whose check is overdue or was failed."""

from __future__ import annotations

import pytest
from gauge_samples import check, length, record

from gaugelink.gauge_record import (
    FAILED,
    NEVER,
    OVERDUE,
    CertificatePoint,
    CheckVerdict,
    gauge_advice,
    never_checked,
    taken_to_keep,
)
from gaugelink.model import GaugeKind


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
    ],
)
def test_a_check_is_overdue_after_its_interval(
    age_days: float, interval: int, expected: list[str]
) -> None:
    assert codes(check(), age_days=age_days, interval=interval) == expected


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


def test_a_gauge_that_nobody_checked_has_a_sentence_of_its_own() -> None:
    assert gauge_advice(record(), None) == ()
    assert never_checked([]) == ()
    kept = taken_to_keep(GaugeKind.CALIPER, "usb", 0.02, "DIN 862, digital caliper, 0.01 mm step")
    typed = taken_to_keep(GaugeKind.MICROMETER, "m", 0.005, "stated in the address")
    (advice,) = never_checked([kept, typed])
    assert advice.code == NEVER
    assert "caliper usb, taken to keep DIN 862, ±0.02 mm;" in advice.text
    assert "micrometer m, taken to keep ±0.005 mm, stated in the address." in advice.text
    assert "95 % is over gauges" in advice.text


def test_a_certificate_without_a_check_is_only_due() -> None:
    point = CertificatePoint(size_mm=5.0, correction_mm=0.0, expanded_u_mm=0.004)
    (due,) = gauge_advice(record(certificate=(point,)), None)
    assert due.code == OVERDUE
    assert "never been checked" in due.text
