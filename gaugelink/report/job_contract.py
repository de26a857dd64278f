"""Jobs as JSON: extended over time, never renamed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict

from gaugelink.assembly.parts import Measured
from gaugelink.assembly.quantities import Findings
from gaugelink.capture.plan import JobRecord
from gaugelink.jobbook.codec import Entry, JobLine, encode
from gaugelink.model import Reading, Series, Summary
from gaugelink.report.contract import SCHEMA
from gaugelink.report.figures_contract import Json, estimate_json
from gaugelink.uncertainty.gauge_error import ZeroCheck


def job_json(
    record: JobRecord, parts: Sequence[Measured], findings: Findings | None = None
) -> Json:
    """Return a job with its gauges, summaries and standing readings as JSON data.

    With ``findings`` also its ``sizes`` by measurand, each an estimate, and ``warnings``.
    """
    return {
        "schema": SCHEMA,
        "job": record.job_id,
        "title": record.setup.title,
        "created_utc": record.created_utc,
        "closed": record.closed,
        "depth_reference": str(record.setup.plan.depth_reference),
        "gauges": [_part_json(part) for part in parts],
        **({} if findings is None else _findings_json(findings)),
    }


def _findings_json(findings: Findings) -> Json:
    return {
        "sizes": {size.label: estimate_json(size) for size in findings.sizes},
        "warnings": [{"code": doubt.code, "text": doubt.text} for doubt in findings.doubts],
    }


def job_line_json(line: JobLine) -> Json:
    """Return one line of the job list as JSON data."""
    return {
        "job": line.job_id,
        "title": line.title,
        "created_utc": line.created_utc,
        "closed": line.closed,
        "n_standing": line.n_standing,
        "n_taken": line.n_taken,
    }


def entry_json(entry: Entry) -> Json:
    """Return one stored event or act as JSON data, its bytes in hex."""
    return {
        "number": entry.number,
        "written_utc": entry.written_utc,
        "kind": entry.kind,
        "gauge": entry.item.gauge_id,
        "raw_hex": None if entry.raw is None else entry.raw.hex(),
        "detail": json.loads(encode(entry.item).detail),
    }


def _part_json(part: Measured) -> Json:
    gauge = part.gauge
    return {
        "gauge": gauge.gauge_id,
        "kind": str(gauge.kind),
        "format": gauge.format,
        "address": gauge.address,
        "mpe_mm": gauge.mpe_mm,
        "shift_mpe_mm": gauge.shift_mpe_mm,
        "mpe_source": gauge.mpe_source,
        "zero": _zero_json(part.zero),
        "measurands": [
            _summary_json(summary, series)
            for summary, series in zip(part.summaries, part.series, strict=True)
        ],
    }


def _zero_json(zero: ZeroCheck | None) -> Json | None:
    if zero is None:
        return None
    return {key: getattr(zero, key) for key in ("before_mm", "after_mm", "resolution_mm")}


def _summary_json(summary: Summary, series: Series) -> Json:
    data = asdict(summary)
    del data["gauge_id"]
    return {**data, "readings": [_reading_json(reading) for reading in series.readings]}


def _reading_json(reading: Reading) -> Json:
    return {
        "value_mm": reading.value_mm,
        "resolution_mm": reading.resolution_mm,
        "displayed": reading.displayed,
        "unit": str(reading.unit),
        "raw_hex": reading.raw.hex(),
        "flags": sorted(map(str, reading.flags)),
    }
