"""Gauge records and checks as JSON: extended over time, never renamed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from gaugelink.gauge_record import GaugeCheck, GaugeRecord
from gaugelink.gauge_trust import gauge_advice
from gaugelink.report.contract import SCHEMA
from gaugelink.report.figures_contract import Json


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownGauge:
    """A record with the limits that hold for its gauge, and the age of its last check.

    ``age_days`` is None for a gauge that was never checked.
    """

    record: GaugeRecord
    mpe_mm: float
    shift_mpe_mm: float
    mpe_source: str
    age_days: float | None


def check_report_json(check: GaugeCheck | None, gauges: Sequence[ShownGauge]) -> Json:
    """Return the check that was just made, if any, and records as JSON data."""
    return {
        "schema": SCHEMA,
        "check": None if check is None else check_json(check),
        "gauges": [gauge_json(each) for each in gauges],
    }


def gauge_json(shown: ShownGauge) -> Json:
    """Return a record with all its checks, the newest first, as JSON data."""
    record = shown.record
    advice = gauge_advice(record, shown.age_days)
    return {
        "gauge": record.gauge_id,
        "kind": str(record.kind),
        "mpe_mm": shown.mpe_mm,
        "shift_mpe_mm": shown.shift_mpe_mm,
        "mpe_source": shown.mpe_source,
        "resolution_mm": record.resolution_mm,
        "jaw_flats": None if record.jaw_flats is None else asdict(record.jaw_flats),
        "anvils": None if record.anvils is None else str(record.anvils),
        "certificate": [asdict(point) for point in record.certificate],
        "interval_days": record.check_interval_days,
        "checks": [check_json(check) for check in record.checks],
        "warnings": [{"code": each.code, "text": each.text} for each in advice],
    }


def check_json(check: GaugeCheck) -> Json:
    """Return one check as JSON data."""
    return {
        "checked_utc": check.checked_utc,
        "job": check.job_id,
        "verdict": str(check.verdict),
        "zero": asdict(check.zero),
        "lengths": [{**asdict(each), "verdict": str(each.verdict)} for each in check.lengths],
    }
