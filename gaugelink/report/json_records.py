"""Jobs as JSON: extended over time, never renamed.

What is known of a job besides its readings, as JSON: extended over time, never renamed.

Gauge records and checks as JSON: extended over time, never renamed.

The stock as JSON: extended over time, never renamed. Lengths in mm.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass

from gaugelink.assembly.parts import Measured
from gaugelink.assembly.quantities import Findings
from gaugelink.capture.plan import JobRecord
from gaugelink.gauge_record import GaugeCheck, GaugeRecord, gauge_advice
from gaugelink.jobbook.codec import NAME_OF, Entry, JobLine, encode, encode_fact
from gaugelink.jobbook.facts import StoredFact
from gaugelink.jobbook.predictions import Compared, Prediction, compare, fittings
from gaugelink.model import Reading, Series, Summary
from gaugelink.report.json_sizing import SCHEMA, Json, estimate_json
from gaugelink.stock.change import StockChange, StockMove
from gaugelink.stock.reading import RowFault, StockList
from gaugelink.stock.spring import StockSpring
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


def facts_json(facts: Sequence[StoredFact]) -> Json:
    """Return the facts of one job, and what was foreseen beside what was seen, as JSON data."""
    found = fittings(facts)
    return {
        "facts": [_fact_json(stored) for stored in facts],
        "compared": [_compared_json(each) for fitting in found for each in compare(fitting)],
    }


def predictions_json(predictions: Iterable[Prediction], compared: Iterable[Compared]) -> Json:
    """Return how good the predictions were, with every comparison behind it, as JSON data."""
    return {
        "schema": SCHEMA,
        "predictions": [_prediction_json(each) for each in predictions],
        "compared": [_compared_json(each) for each in compared],
    }


def _fact_json(stored: StoredFact) -> Json:
    return {
        "number": stored.number,
        "written_utc": stored.written_utc,
        "fact": NAME_OF[type(stored.fact)],
        **json.loads(encode_fact(stored.fact)),
    }


def _compared_json(compared: Compared) -> Json:
    return {
        "job": compared.job_id,
        "figure": compared.name,
        "foreseen": {"low": compared.foreseen.low, "high": compared.foreseen.high},
        "seen": compared.seen,
        "ratio": compared.ratio,
        "inside": compared.is_inside,
    }


def _prediction_json(prediction: Prediction) -> Json:
    return {
        "figure": prediction.name,
        "n": prediction.n,
        "n_inside": prediction.n_inside,
        "median_ratio": prediction.median_ratio,
        "low_ratio": prediction.low_ratio,
        "high_ratio": prediction.high_ratio,
        "confidence": prediction.confidence,
        "quarter_ratio": prediction.quarter_ratio,
        "three_quarter_ratio": prediction.three_quarter_ratio,
        "tells_enough": prediction.tells_enough,
    }


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


def spring_json(spring: StockSpring) -> Json:
    """Return a spring of the stock as JSON data; null is what its list does not say."""
    return {
        "item": spring.item,
        "height_mm": spring.height_mm,
        "thickness_mm": spring.thickness_mm,
        "length_mm": spring.length_mm,
        "height_tolerance_mm": spring.height_tolerance_mm,
        "thickness_tolerance_mm": spring.thickness_tolerance_mm,
        "length_tolerance_mm": spring.length_tolerance_mm,
        "end": spring.end,
        "material": spring.material,
        "on_hand": spring.on_hand,
        "reorder_at": spring.reorder_at,
        "running_out": spring.running_out,
        "note": spring.note,
    }


def stock_json(springs: Sequence[StockSpring], n_sizes: int) -> Json:
    """Return the springs that were found, and of how many sizes, as JSON data."""
    return {
        "schema": SCHEMA,
        "n_sizes": n_sizes,
        "springs": [spring_json(spring) for spring in springs],
        "running_out": [spring.item for spring in springs if spring.running_out],
    }


def reading_json(read: StockList, change: StockChange | None) -> Json:
    """Return what a list says, and what it changed, as JSON data; ``None``: nothing was taken."""
    changed = change or StockChange()
    return {
        "schema": SCHEMA,
        "file": read.path,
        "sheet": read.sheet or None,
        "other_sheets": list(read.other_sheets),
        "taken": change is not None,
        "new": [spring_json(spring) for spring in changed.new],
        "changed": [
            {"before": spring_json(c.before), "now": spring_json(c.now)} for c in changed.changed
        ],
        "gone": [spring_json(spring) for spring in changed.gone],
        "n_same": len(changed.same),
        "n_faulty_rows": read.n_faulty_rows,
        "faults": [_fault_json(fault) for fault in read.faults],
        "unused_columns": list(read.unused),
    }


def move_json(move: StockMove) -> Json:
    """Return what was taken out or brought back as JSON data."""
    return {
        "schema": SCHEMA,
        "spring": spring_json(move.spring),
        "taken": move.count,
        "job": move.job_id,
        "running_out": [spring.item for spring in move.running_out],
        "alternatives": [spring_json(spring) for spring in move.alternatives],
    }


def _fault_json(fault: RowFault) -> Json:
    return {
        "line": fault.line,
        "column": fault.column,
        "fault": fault.fault,
        "hint": fault.hint,
    }
