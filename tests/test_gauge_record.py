"""What a gauge's record refuses, and what it makes of its checks."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from gauge_samples import FULL, check, length, record

from gaugelink.errors import InputError
from gaugelink.gauge_record import (
    RECORD_SOURCE,
    CertificatePoint,
    CheckVerdict,
    GaugeCheck,
    JawFlats,
    with_record,
)
from gaugelink.model import GaugeInfo, GaugeKind, Sends

INFO = GaugeInfo(
    gauge_id="usb-caliper",
    kind=GaugeKind.CALIPER,
    sends=Sends.BUTTON,
    address="serial:usb-caliper",
    format="invented",
    mpe_mm=0.02,
    shift_mpe_mm=0.02,
    mpe_source="of its kind",
)
PASS, UNDECIDED, FAIL = CheckVerdict.PASS, CheckVerdict.UNDECIDED, CheckVerdict.FAIL


def point(size_mm: float, **more: Any) -> CertificatePoint:
    fields = {"correction_mm": 0.0, "expanded_u_mm": 0.01}
    return CertificatePoint(size_mm=size_mm, **(fields | more))


@pytest.mark.parametrize(
    "make",
    [
        lambda: record(mpe_mm=-0.01),
        lambda: record(mpe_mm=math.nan),
        lambda: record(shift_mpe_mm=math.inf),
        lambda: record(resolution_mm=0.0),
        lambda: record(resolution_mm=-0.01),
        lambda: record(check_interval_days=0),
        lambda: record(certificate=(point(10.0), point(10.0))),
        lambda: record(certificate=(point(10.0), point(5.0))),
        lambda: point(-1.0),
        lambda: point(5.0, correction_mm=math.nan),
        lambda: point(5.0, expanded_u_mm=-0.001),
        lambda: point(5.0, k=0.0),
        lambda: JawFlats(width_mm=-0.1, u_mm=0.01),
        lambda: JawFlats(width_mm=0.1, u_mm=-0.01),
    ],
)
def test_what_cannot_be_is_refused_with_a_hint(make: Any) -> None:
    with pytest.raises(InputError) as caught:
        make()
    assert str(caught.value).endswith(".")
    assert caught.value.hint


def test_limits_of_nothing_and_more_are_possible() -> None:
    assert (record(mpe_mm=0.0).mpe_mm, record(shift_mpe_mm=0.05).shift_mpe_mm) == (0.0, 0.05)


def test_a_certificate_states_its_uncertainty_with_its_k() -> None:
    assert point(5.0, expanded_u_mm=0.012, k=2.4).u_mm == pytest.approx(0.005)


@pytest.mark.parametrize(
    ("verdicts", "worst"),
    [
        ([PASS], PASS),
        ([PASS, UNDECIDED], UNDECIDED),
        ([FAIL, UNDECIDED, PASS], FAIL),
        ([PASS, FAIL], FAIL),
    ],
)
def test_a_check_is_as_good_as_its_worst_length(
    verdicts: list[CheckVerdict], worst: CheckVerdict
) -> None:
    lengths = [length(5.0 + i, verdict) for i, verdict in enumerate(verdicts)]
    assert check(*lengths).verdict is worst


def test_a_check_without_a_length_is_none() -> None:
    with pytest.raises(ValueError, match="without a known length"):
        GaugeCheck(checked_utc="", job_id=1, zero=check().zero, lengths=())


def test_scatter_is_pooled_over_the_lengths() -> None:
    pooled = check(length(1.0, n=5, std_mm=0.002), length(9.0, n=3, std_mm=0.005)).repeatability
    assert pooled.dof == 6
    assert pooled.std_mm == pytest.approx(math.sqrt((4 * 0.002**2 + 2 * 0.005**2) / 6))


@pytest.mark.parametrize(
    ("checks", "failed_mm"),
    [
        ([], []),
        ([check(length(5.0, FAIL))], [5.0]),
        ([check(length(5.0, PASS)), check(length(5.0, FAIL))], []),
        ([check(length(5.0, UNDECIDED)), check(length(5.0, FAIL))], []),
        ([check(length(5.0, FAIL)), check(length(5.0, PASS))], [5.0]),
        # Passing at 10 mm does not undo a failure at 5 mm.
        ([check(length(10.0, PASS)), check(length(5.0, FAIL))], [5.0]),
        ([check(length(5.002, PASS)), check(length(5.0, FAIL))], []),
        ([check(length(1.0, FAIL), length(2.0, PASS), length(3.0, FAIL))], [1.0, 3.0]),
    ],
)
def test_a_failure_stands_until_that_length_is_checked_again(
    checks: list[GaugeCheck], failed_mm: list[float]
) -> None:
    failed = record(checks=tuple(checks)).failed_lengths
    assert [each.known_mm for each in failed] == failed_mm


def test_the_newest_check_is_the_last_one() -> None:
    checks = (check(day=9), check(day=2))
    assert record(checks=checks).last_check is checks[0]
    assert record().last_check is None


def test_a_record_states_limits_in_place_of_those_of_the_kind() -> None:
    stated = with_record(INFO, FULL)
    assert (stated.mpe_mm, stated.shift_mpe_mm) == (0.03, 0.04)
    assert stated.mpe_source == "maker's leaflet, invented"
    assert replace(stated, mpe_mm=0.02, shift_mpe_mm=0.02, mpe_source="of its kind") == INFO


def test_one_stated_limit_leaves_the_other() -> None:
    stated = with_record(INFO, record(mpe_mm=0.0))
    assert (stated.mpe_mm, stated.shift_mpe_mm) == (0.0, 0.02)
    assert stated.mpe_source == RECORD_SOURCE


def test_a_record_without_limits_changes_none() -> None:
    assert with_record(INFO, record(check_interval_days=30)) is INFO
    assert with_record(INFO, None) is INFO
