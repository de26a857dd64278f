"""Jobs as a JSON file that other programs can read, and back again, byte for byte.

A job is one line of the file. Bytes from the wire are base64. What the tables hold as JSON
stands in the file as JSON too; a text that would not come back letter for letter (it was
written by an older version, or holds an infinity) stands there as a string instead. Every
item carries the SHA-256 of all that it holds, so that a damaged file is noticed.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import fields
from datetime import datetime
from operator import attrgetter
from typing import Any, TypeAlias

from gaugelink.jobbook.book import storable
from gaugelink.jobbook.codec import Row, UnreadableRow, decode, decode_gauge, decode_setup
from gaugelink.jobbook.fact_fields import decode_fact
from gaugelink.jobbook.gauge_records import decode_check, decode_record
from gaugelink.jobbook.job_rows import EntryRow, FactRow, GaugeRow, JobRows, RecordRows

SCHEMA = 1
KIND = "gaugelink jobs"
DIGEST = "sha256"
_MOST = 2**31 - 1  # a number of a job, entry or fact beyond this is no number of ours

Item: TypeAlias = dict[str, Any]
_Encode: TypeAlias = Callable[[object], str]

# As the tables of jobs hold JSON, and as those of gauge records do.
_compact = json.JSONEncoder(separators=(",", ":"), allow_nan=False).encode
_spaced = json.JSONEncoder(allow_nan=False).encode


class BadItem(ValueError):
    """An item of the file does not hold what it should; the reader says which one."""


def job_item(job: JobRows) -> Item:
    """Return a job as an item of the file."""
    return {
        "job": job.job_id,
        "identity": job.identity,
        "created_utc": job.created_utc,
        "title": job.title,
        "closed": job.closed,
        "setup": _open(job.setup, _compact),
        "gauges": [{"gauge_id": g.gauge_id, "info": _open(g.info, _compact)} for g in job.gauges],
        "entries": [_entry_item(entry) for entry in job.entries],
        "facts": [_fact_item(fact) for fact in job.facts],
        DIGEST: digest_of(job),
    }


def record_item(record: RecordRows) -> Item:
    """Return the record of a gauge as an item of the file."""
    return {
        "gauge_id": record.gauge_id,
        "changed_utc": record.changed_utc,
        "record": _open(record.detail, _spaced),
        "checks": [_open(check, _spaced) for check in record.checks],
        DIGEST: digest_of(record),
    }


def job_from(item: Any) -> JobRows:
    """Return the job of an item.

    Raises:
        BadItem: it was changed, or holds what this version cannot read.
    """
    try:
        job = JobRows(
            job_id=_of(item, "job", int),
            identity=_of(item, "identity", str),
            created_utc=_utc(item, "created_utc"),
            title=_of(item, "title", str),
            setup=_closed(item, "setup", _compact),
            closed=_of(item, "closed", bool),
            gauges=tuple(
                GaugeRow(gauge_id=_of(g, "gauge_id", str), info=_closed(g, "info", _compact))
                for g in _of(item, "gauges", list)
            ),
            entries=tuple(_entry_from(entry) for entry in _of(item, "entries", list)),
            facts=tuple(_fact_from(fact) for fact in _of(item, "facts", list)),
        )
        _check_digest(item, job)
        _check_readable(job)
    except UnreadableRow as exc:
        raise BadItem(str(exc)) from exc
    return job


def record_from(item: Any) -> RecordRows:
    """Return the gauge record of an item; raises as ``job_from``."""
    record = RecordRows(
        gauge_id=_of(item, "gauge_id", str),
        changed_utc=_utc(item, "changed_utc"),
        detail=_closed(item, "record", _spaced),
        checks=tuple(_closed({"check": c}, "check", _spaced) for c in _of(item, "checks", list)),
    )
    _check_digest(item, record)
    try:
        decode_record(record.detail, tuple(decode_check(check) for check in record.checks))
    except UnreadableRow as exc:
        raise BadItem(str(exc)) from exc
    return record


def _check_readable(job: JobRows) -> None:
    decode_setup(job.setup)
    for gauge in job.gauges:
        decode_gauge(gauge.info)
    for entry in job.entries:
        decode(Row(origin=entry.origin, kind=entry.kind, raw=entry.raw, detail=entry.detail))
    for fact in job.facts:
        decode_fact(fact.name, fact.detail)
    for rows in (job.entries, job.facts):
        numbers = [row.number for row in rows]  # a rescued job has gaps
        if numbers != sorted(set(numbers)):
            raise BadItem("its numbers do not rise")


def _entry_item(entry: EntryRow) -> Item:
    raw = None if entry.raw is None else base64.b64encode(entry.raw).decode("ascii")
    return {
        "number": entry.number,
        "written_utc": entry.written_utc,
        "origin": entry.origin,
        "kind": entry.kind,
        "raw_base64": raw,
        "detail": _open(entry.detail, _compact),
    }


def _entry_from(item: Any) -> EntryRow:
    raw = item.get("raw_base64") if isinstance(item, dict) else None
    if raw is not None:
        try:
            raw = base64.b64decode(raw, validate=True)
        except (TypeError, ValueError) as exc:
            raise BadItem(f"raw_base64: {exc}") from exc
    return EntryRow(
        number=_of(item, "number", int),
        written_utc=_utc(item, "written_utc"),
        origin=_of(item, "origin", str),
        kind=_of(item, "kind", str),
        raw=raw,
        detail=_closed(item, "detail", _compact),
    )


def _fact_item(fact: FactRow) -> Item:
    return {
        "number": fact.number,
        "written_utc": fact.written_utc,
        "name": fact.name,
        "detail": _open(fact.detail, _compact),
    }


def _fact_from(item: Any) -> FactRow:
    return FactRow(
        number=_of(item, "number", int),
        written_utc=_utc(item, "written_utc"),
        name=_of(item, "name", str),
        detail=_closed(item, "detail", _compact),
    )


def _open(text: str, encode: _Encode) -> Any:
    """Return JSON text as data if that gives back the very text, else the text."""
    try:
        data = json.loads(text)
        return data if isinstance(data, dict) and encode(data) == text else text
    except (ValueError, RecursionError):
        return text


def _closed(item: Any, name: str, encode: _Encode) -> str:
    data = _of(item, name, (dict, str))
    try:
        return data if isinstance(data, str) else encode(data)
    except ValueError as exc:
        raise BadItem(str(exc)) from exc


def _of(item: Any, name: str, kind: Any) -> Any:
    if not isinstance(item, dict) or not isinstance(value := item.get(name), kind):
        raise BadItem(f"{name} is missing or is not what it should be")
    if kind is int and (isinstance(value, bool) or not 0 < value <= _MOST):
        raise BadItem(f"{name} is no number of ours")
    if isinstance(value, str) and storable(value) != value:
        raise BadItem(f"{name} holds a letter that is none")
    return value


def _utc(item: Any, name: str) -> str:
    text: str = _of(item, name, str)
    try:
        datetime.fromisoformat(text)
    except ValueError as exc:
        raise BadItem(f"{name} is no moment: {exc}") from exc
    return text


def digest_of(rows: JobRows | RecordRows) -> str:
    """Return the SHA-256 of all that rows hold, in hex; their layout in a file does not matter."""
    return hashlib.sha256(_flat(rows).encode("ascii")).hexdigest()


# The columns in their order, never their names: what was signed must stay signed.
_columns_of: Mapping[type, Callable[[Any], tuple[object, ...]]] = {
    cls: attrgetter(*(field.name for field in fields(cls)))
    for cls in (JobRows, RecordRows, GaugeRow, EntryRow, FactRow)
}


def _columns(value: object) -> object:
    return value.hex() if isinstance(value, bytes) else _columns_of[type(value)](value)


_flat = json.JSONEncoder(separators=(",", ":"), default=_columns).encode


def _check_digest(item: Item, rows: JobRows | RecordRows) -> None:
    if _of(item, DIGEST, str) != digest_of(rows):
        raise BadItem("it was changed or damaged since it was written")
