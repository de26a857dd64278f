"""What a job comes to: its sizes with their uncertainty, and what is doubtful."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

import pytest
from test_job import BOTH, CALIPER, job, taken
from test_measured_gauges import CHECKED, known

from gaugelink.assembly.job import Job
from gaugelink.assembly.measured import estimates_of
from gaugelink.gauge_record import CheckVerdict
from gaugelink.model import GaugeKind
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.size_spring import size_spring
from gaugelink.statistics.outlier_method import OutlierMethod

NOW: datetime = CHECKED + timedelta(days=1)


def test_a_size_has_the_value_and_the_u_of_its_quantity() -> None:
    quantities = Job(job(BOTH)).quantities()
    estimates = {each.label: each for each in estimates_of(Job(job(BOTH)).quantities())}
    assert list(estimates) == ["bore", "depth", "lid"]
    for name, quantity in quantities.items():
        each = estimates[name]
        u = math.hypot(*(term.factor * term.influence.u for term in quantity.terms))
        assert (each.value, each.u, each.unit) == (quantity.value, pytest.approx(u), "mm")


def test_a_size_has_the_interval_that_the_sizing_gives_it() -> None:
    quantities = Job(job(BOTH)).quantities()
    sized = size_spring(SizingInputs(**quantities))
    used = {each.label: each for each in sized.inputs}
    for each in estimates_of(quantities):
        assert (each.low, each.high) == (used[each.label].low, used[each.label].high)


def test_findings_hold_the_sizes_and_warn_of_the_gauges_behind_them() -> None:
    failed = {"caliper": known(GaugeKind.CALIPER, CheckVerdict.FAIL)}
    findings = Job(job(BOTH), failed).findings(NOW)
    assert findings.sizes == estimates_of(Job(job(BOTH), failed).quantities())
    codes = [doubt.code for doubt in findings.doubts]
    assert codes == ["gauge-check-failed", "no-last-zero", "gauge-never-checked"]


def test_a_gauge_that_measured_nothing_is_not_warned_of() -> None:
    failed = {"micrometer": known(GaugeKind.MICROMETER, CheckVerdict.FAIL)}
    bore_only = job(taken(CALIPER, "bore", "11.52", "11.51", "11.53"))
    (doubt,) = Job(bore_only, failed).findings(NOW).doubts
    assert doubt.code == "gauge-never-checked"
    assert "micrometer" not in doubt.text


def test_a_job_without_readings_comes_to_nothing() -> None:
    findings = Job(job([])).findings(NOW)
    assert (findings.sizes, findings.doubts) == ((), ())


def test_one_reading_apart_is_called_a_slip_until_another_confirms_it() -> None:
    shown = ["11.01", "11.02", "11.01", "11.13", "11.02"]
    codes = []
    for again in ("11.01", "11.12"):
        _, doubt = Job(job(taken(CALIPER, "bore", *shown, again), CALIPER)).findings(NOW).doubts
        codes.append(doubt.code)
    assert codes == ["bore-one-apart", "bore-out-of-round"]


def test_the_treatment_decides_whether_a_short_reading_is_kept() -> None:
    shown = ("11.52", "11.51", "11.52", "11.22", "11.53", "11.52", "11.51")
    record = job(taken(CALIPER, "bore", *shown), CALIPER)
    passed = {"caliper": known(GaugeKind.CALIPER, CheckVerdict.PASS)}
    codes = [
        [
            doubt.code
            for doubt in Job(record, passed).findings(NOW, treatment).doubts
            if doubt.code != "gauge-never-checked"  # its inside faces
        ]
        for treatment in (OutlierMethod.GRUBBS, OutlierMethod.NONE)
    ]
    assert codes == [[], ["bore-one-apart"]]
