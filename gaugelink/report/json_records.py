"""Jobs, facts, gauges and stock as JSON: extended over time, never renamed. Lengths in mm."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass

from gaugelink.assembly.measured import Findings
from gaugelink.assembly.parts import Measured
from gaugelink.capture.plan import JobRecord
from gaugelink.gauge_record import (
    Face,
    GaugeCheck,
    GaugeRecord,
    gauge_advice,
    never_checked,
    taken_to_keep,
)
from gaugelink.jobbook.codec import encode, wire_name
from gaugelink.jobbook.entries import StoredEntry, columns_of
from gaugelink.jobbook.facts import StoredFact
from gaugelink.jobbook.lookup import JobLine
from gaugelink.jobbook.predictions import Compared, Prediction, compare, fittings
from gaugelink.jobbook.sizes import Likeness
from gaugelink.model import Advice, Reading, Series, Summary
from gaugelink.report.json_sizing import (
    SCHEMA,
    Json,
    advice_json,
    estimate_json,
    intervals_json,
    named,
)
from gaugelink.stock.change import StockChange, StockMove
from gaugelink.stock.reading import StockList
from gaugelink.stock.stock_spring import StockSpring
from gaugelink.uncertainty.evaluate import USUAL_COVERAGE, USUAL_DRAWS, USUAL_SEED

_OF_SPRING = (
    *("item", "height_mm", "thickness_mm", "length_mm"),
    *("height_tolerance_mm", "thickness_tolerance_mm", "length_tolerance_mm"),
    *("end", "material", "on_hand", "reorder_at", "running_out", "note"),
)


def job_json(
    record: JobRecord, parts: Sequence[Measured], findings: Findings | None = None
) -> Json:
    """Return a job with its gauges, summaries and standing readings as JSON data.

    With ``findings`` also its ``sizes`` by measurand, each an estimate as ``size`` has it with
    its usual coverage, draws and seed, and ``warnings``.
    """
    return {
        "schema": SCHEMA,
        "job": record.job_id,
        "title": record.setup.title,
        "created_utc": record.created_utc,
        "closed": record.closed,
        "depth_reference": str(record.setup.plan.depth_reference),
        "gauges": [_part(part) for part in parts],
        **({} if findings is None else _findings(findings)),
    }


def job_line_json(line: JobLine) -> Json:
    """Return one line of the job list as JSON data."""
    rest = named(line, "title", "created_utc", "closed", "n_standing", "n_taken")
    return {"job": line.job_id, **rest}


def likeness_json(likes: Sequence[Likeness], titles: Mapping[int, str]) -> Json:
    """Return the most alike earlier jobs as JSON data."""
    return {
        "schema": SCHEMA,
        "like": [
            {
                "job": like.job_id,
                "title": titles.get(like.job_id, ""),
                "same_size": like.is_same_size,
                "distance_in_u": like.distance_in_u,
                "differences": [
                    named(each, "name", "difference_mm", "in_u", "agrees")
                    for each in like.differences
                ],
            }
            for like in likes
        ],
    }


def entry_json(entry: StoredEntry) -> Json:
    """Return one stored event or act as JSON data, its bytes in hex."""
    return {
        **named(entry, "number", "written_utc", "kind"),
        "gauge": entry.item.gauge_id,
        "raw_hex": None if entry.raw is None else entry.raw.hex(),
        "detail": json.loads(columns_of(entry.item).detail),
    }


def _findings(findings: Findings) -> Json:
    return {
        **intervals_json(USUAL_COVERAGE),
        "draws": USUAL_DRAWS,
        "seed": USUAL_SEED,
        "sizes": {size.label: estimate_json(size) for size in findings.sizes},
        "warnings": [named(doubt, "code", "text") for doubt in findings.doubts],
    }


def _part(part: Measured) -> Json:
    gauge = part.gauge
    return {
        "gauge": gauge.gauge_id,
        "kind": str(gauge.kind),
        **named(gauge, "format", "address", "mpe_mm", "shift_mpe_mm", "mpe_source"),
        "zero": part.zero and named(part.zero, "before_mm", "after_mm", "resolution_mm"),
        "measurands": [
            _summary(summary, series)
            for summary, series in zip(part.summaries, part.series, strict=True)
        ],
        "superseded": [
            {
                "measurand": series.measurand,
                "readings": [_reading(reading) for reading in series.readings],
            }
            for series in part.superseded
        ],
    }


def _summary(summary: Summary, series: Series) -> Json:
    data = asdict(summary)
    del data["gauge_id"]
    return {**data, "readings": [_reading(reading) for reading in series.readings]}


def _reading(reading: Reading) -> Json:
    return {
        **named(reading, "value_mm", "resolution_mm", "displayed"),
        "unit": str(reading.unit),
        "raw_hex": reading.raw.hex(),
        "flags": sorted(map(str, reading.flags)),
    }


def facts_json(facts: Sequence[StoredFact]) -> Json:
    """Return the facts of one job, and what was expected beside what was seen, as JSON data."""
    found = fittings(facts)
    return {
        "facts": [_fact(stored) for stored in facts],
        "compared": [_compared(each) for fitting in found for each in compare(fitting)],
    }


def predictions_json(predictions: Iterable[Prediction], compared: Iterable[Compared]) -> Json:
    """Return how good the predictions were, with every comparison behind it, as JSON data."""
    return {
        "schema": SCHEMA,
        "predictions": [_prediction(each) for each in predictions],
        "compared": [_compared(each) for each in compared],
    }


def _fact(stored: StoredFact) -> Json:
    return {
        "number": stored.number,
        "written_utc": stored.written_utc,
        "fact": wire_name(type(stored.fact)),
        **json.loads(encode(stored.fact)),
    }


def _compared(compared: Compared) -> Json:
    return {
        "job": compared.job_id,
        "figure": compared.name,
        "foreseen": named(compared.foreseen, "low", "high"),
        "seen": compared.seen,
        "ratio": compared.ratio,
        "inside": compared.is_inside,
    }


def _prediction(prediction: Prediction) -> Json:
    return {
        "figure": prediction.name,
        **named(prediction, "n", "n_inside", "median_ratio", "low_ratio", "high_ratio"),
        **named(prediction, "confidence", "quarter_ratio", "three_quarter_ratio", "tells_enough"),
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

    @property
    def advice(self) -> tuple[Advice, ...]:
        """What is to be said of the gauge, also that nobody checked it."""
        known = self.record
        named = taken_to_keep(known.kind, known.gauge_id, self.mpe_mm, self.mpe_source)
        unseen = [named] if known.is_trusted_unseen else []
        return (*gauge_advice(known, self.age_days), *never_checked(unseen))


def check_report_json(check: GaugeCheck | None, gauges: Sequence[ShownGauge]) -> Json:
    """Return the check that was just made, if any, and records as JSON data."""
    return {
        "schema": SCHEMA,
        "check": None if check is None else _check(check),
        "gauges": [_gauge(each) for each in gauges],
    }


def _gauge(shown: ShownGauge) -> Json:
    """Return a record with all its checks, the newest first, as JSON data."""
    record = shown.record
    return {
        "gauge": record.gauge_id,
        "kind": str(record.kind),
        "serial": record.serial or None,
        **named(shown, "mpe_mm", "shift_mpe_mm", "mpe_source"),
        "resolution_mm": record.resolution_mm,
        "jaw_flats": None if record.jaw_flats is None else asdict(record.jaw_flats),
        "anvils": None if record.anvils is None else str(record.anvils),
        "certificate": [asdict(point) for point in record.certificate],
        "faces": {face.value: _face(record, face) for face in Face},
        "interval_days": record.check_interval_days,
        "checks": [_check(check) for check in record.checks],
        "warnings": advice_json(shown.advice),
    }


def _face(record: GaugeRecord, face: Face) -> Json:
    """Return how one pair of faces came out in its checks as JSON data."""
    return {
        "checked": not record.unchecked([face]),
        "passed_mm": [each.known_mm for each in record.passed(face)],
        "failed_mm": [each.known_mm for each in record.failed_lengths if each.face is face],
        "corrected": face in record.corrected,
    }


def _check(check: GaugeCheck) -> Json:
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
    return named(spring, *_OF_SPRING)


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
        "kept": [
            {"item": c.now.item, "listed": c.before.on_hand, "on_hand": c.now.on_hand}
            for c in changed.kept
        ],
        "n_blank_counts": read.n_blank_counts,
        "n_faulty_rows": read.n_faulty_rows,
        "faults": [named(fault, "line", "column", "fault", "hint") for fault in read.faults],
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
