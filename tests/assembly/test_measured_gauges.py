"""What the record of a gauge does to the quantities of a job, and what results must say of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from gauge_samples import ZERO as ZERO_FOUND
from gauge_samples import length
from test_job import BOTH, CALIPER, job, taken

from gaugelink.assembly.job import Job
from gaugelink.assembly.measured import check_age_days
from gaugelink.capture.plan import make_plan
from gaugelink.gauge_record import CheckVerdict, GaugeCheck, GaugeRecord, JawFlats
from gaugelink.model import DepthReference, GaugeKind

CHECKED = datetime.fromisoformat("2026-03-01T09:00:00.000+00:00")


def known(kind: GaugeKind, *verdicts: CheckVerdict, **more: object) -> GaugeRecord:
    """A record with a check of 10 mm for each verdict, the newest first."""
    checks = tuple(
        GaugeCheck(
            checked_utc=CHECKED.isoformat(),
            job_id=1,
            zero=ZERO_FOUND,
            lengths=(length(10.0, verdict),),
        )
        for verdict in verdicts
    )
    return GaugeRecord(gauge_id=str(kind), kind=kind, checks=checks, **more)  # type: ignore[arg-type]


def doubts(
    *records: GaugeRecord, used: Sequence[str] = ("bore", "lid"), days: float = 1
) -> list[str]:
    by_id = {record.gauge_id: record for record in records}
    now = CHECKED + timedelta(days=days)
    told = Job(job(BOTH), by_id).doubts(used, now)
    return [w.code for w in told if w.code not in ("gauge-never-checked", "no-last-zero")]


def test_a_quantity_uses_the_record_of_its_own_gauge() -> None:
    caliper = known(GaugeKind.CALIPER, jaw_flats=JawFlats(width_mm=0.5, u_mm=0.02), mpe_mm=0.01)
    plain, better = (Job(job(BOTH), records).quantities() for records in ({}, {"caliper": caliper}))
    swept = 11.515 + (5 * (0.01**2 - 0.005**2)) ** 0.5 / 4
    assert better["bore"].value == pytest.approx((swept**2 + 0.5**2) ** 0.5)
    errors = {t.influence.label: t.influence.u for t in better["depth"].terms}
    assert errors["MPE ±0.01 mm (stated in the gauge's record), caliper"] == pytest.approx(
        0.01 / 3**0.5
    )
    assert better["lid"] == plain["lid"]


def test_a_depth_knows_its_reference() -> None:
    record = job(BOTH)
    seat = replace(record.setup, plan=make_plan(DepthReference.SEAT))
    depth = Job(replace(record, setup=seat)).quantities()["depth"]
    assert "beam on the narrow lid seat" in {t.influence.label for t in depth.terms}


def test_each_gauge_behind_a_result_is_warned_of_once() -> None:
    failed = known(GaugeKind.CALIPER, CheckVerdict.FAIL)
    assert doubts(failed, used=("bore", "depth")) == ["gauge-check-failed"]
    assert doubts(failed, used=("lid",)) == []
    assert doubts(known(GaugeKind.CALIPER, CheckVerdict.PASS)) == []
    assert doubts() == []


def test_gauges_that_nobody_checked_are_named_in_one_sentence() -> None:
    checked = known(GaugeKind.CALIPER, CheckVerdict.PASS)
    for records, named in (
        ({}, ["caliper", "micrometer"]),
        ({"caliper": checked}, ["micrometer"]),
        ({"caliper": known(GaugeKind.CALIPER, mpe_mm=0.01)}, ["caliper", "micrometer"]),
    ):
        unseen, told = Job(job(BOTH), records).doubts(("bore", "lid"), CHECKED)
        assert unseen.code == "no-last-zero"
        assert told.code == "gauge-never-checked"
        assert [k for k in ("caliper", "micrometer") if f"{k} {k}, taken" in told.text] == named
    assert "±0.01 mm" in told.text


def test_an_overdue_check_is_warned_of_and_a_gauge_after_the_other() -> None:
    gauges = [
        known(GaugeKind.CALIPER, CheckVerdict.PASS),
        known(GaugeKind.MICROMETER, CheckVerdict.FAIL),
    ]
    assert doubts(*gauges, days=364) == ["gauge-check-failed"]
    assert doubts(*gauges, days=366) == [
        "gauge-check-overdue",
        "gauge-check-failed",
        "gauge-check-overdue",
    ]


def test_the_age_of_a_check_is_counted_from_the_newest() -> None:
    now = CHECKED + timedelta(days=2, hours=12)
    assert check_age_days(known(GaugeKind.CALIPER, CheckVerdict.PASS), now) == pytest.approx(2.5)
    assert check_age_days(known(GaugeKind.CALIPER), now) is None


def test_an_oval_bore_and_a_snail_are_said_with_their_size() -> None:
    acts = [
        *taken(CALIPER, "bore", "11.52", "11.47", "11.56", "11.53", "11.44"),
        *taken(CALIPER, "arbor", "3.70", "3.76", "3.82"),
    ]
    warnings = Job(job(acts, CALIPER)).doubts(("bore", "arbor"), CHECKED)
    assert [w.code for w in warnings][1:] == ["bore-out-of-round", "arbor-snail"]
    assert "may be out of round, by about 0.13 mm" in warnings[1].text
    assert "5 readings scatter by 0.048 mm, where gauge and hand account for 0.01 mm" in (
        warnings[1].text
    )
    assert "from 3.70 to 3.82 mm" in warnings[2].text
    assert Job(job(acts, CALIPER)).doubts(("depth",), CHECKED) == ()
