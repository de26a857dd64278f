"""Jobs as a JSON file that other programs can read, and back again, byte for byte.

A job is one line of the file. Bytes from the wire are base64. What the tables hold as JSON
stands in the file as JSON too; a text that would not come back letter for letter (it was
written by an older version, or holds an infinity) stands there as a string instead. Every
item carries the SHA-256 of all that it holds, so that a damaged file is noticed.

A whole job as the tables hold it, row for row: what export and import carry across.

Walking through a large JSON file an item at a time, so that it need not all be objects.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
import sqlite3
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from operator import attrgetter
from typing import Any, TypeAlias

from gaugelink.jobbook.book import storable
from gaugelink.jobbook.codec import (
    Row,
    UnreadableRow,
    decode,
    decode_fact,
    decode_gauge,
    decode_setup,
)
from gaugelink.jobbook.gauge_records import decode_check, decode_record


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeRow:
    """A gauge of a job; ``info`` is its JSON."""

    gauge_id: str
    info: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryRow:
    """An event or act; ``detail`` is its JSON, ``raw`` the bytes from the wire."""

    number: int
    written_utc: str
    origin: str
    kind: str
    raw: bytes | None
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FactRow:
    """A fact; ``detail`` is its JSON."""

    number: int
    written_utc: str
    name: str
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRows:
    """A job; ``identity`` stays with it in every file, ``job_id`` is its number in this one."""

    job_id: int
    identity: str
    created_utc: str
    title: str
    setup: str
    closed: bool
    gauges: tuple[GaugeRow, ...]
    entries: tuple[EntryRow, ...]
    facts: tuple[FactRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordRows:
    """The record of a gauge and its checks, the oldest first, all of them as JSON."""

    gauge_id: str
    changed_utc: str
    detail: str
    checks: tuple[str, ...]


def all_jobs(connection: sqlite3.Connection) -> list[int]:
    """Return the numbers of all jobs, the oldest first."""
    return [job for (job,) in connection.execute("SELECT job_id FROM job ORDER BY job_id")]


def read_rows(connection: sqlite3.Connection, job_id: int) -> JobRows | None:
    """Return a job; None when no job has that number."""
    job = connection.execute(
        "SELECT identity, created_utc, title, setup, closed FROM job WHERE job_id = ?", (job_id,)
    ).fetchone()
    if job is None:
        return None
    identity, created_utc, title, setup, closed = job
    gauges = connection.execute(
        "SELECT gauge_id, info FROM gauge WHERE job_id = ? ORDER BY position", (job_id,)
    )
    entries = connection.execute(
        "SELECT number, written_utc, origin, kind, raw, detail FROM entry"
        " WHERE job_id = ? ORDER BY number",
        (job_id,),
    )
    facts = connection.execute(
        "SELECT number, written_utc, name, detail FROM fact WHERE job_id = ? ORDER BY number",
        (job_id,),
    )
    return JobRows(
        job_id=job_id,
        identity=identity,
        created_utc=created_utc,
        title=title,
        setup=setup,
        closed=bool(closed),
        gauges=tuple(GaugeRow(gauge_id=g, info=info) for g, info in gauges),
        entries=tuple(
            EntryRow(number=n, written_utc=w, origin=o, kind=k, raw=raw, detail=d)
            for n, w, o, k, raw, d in entries
        ),
        facts=tuple(FactRow(number=n, written_utc=w, name=f, detail=d) for n, w, f, d in facts),
    )


def read_record(connection: sqlite3.Connection, gauge_id: str) -> RecordRows | None:
    """Return the record of a gauge; None when it has none."""
    record = connection.execute(
        "SELECT changed_utc, detail FROM gauge_record WHERE gauge_id = ?", (gauge_id,)
    ).fetchone()
    if record is None:
        return None
    checks = connection.execute(
        "SELECT detail FROM gauge_check WHERE gauge_id = ? ORDER BY number", (gauge_id,)
    )
    return RecordRows(
        gauge_id=gauge_id,
        changed_utc=record[0],
        detail=record[1],
        checks=tuple(detail for (detail,) in checks),
    )


def insert_job(connection: sqlite3.Connection, job: JobRows, job_id: int) -> None:
    """Insert a job with all its rows under a number that is free."""
    connection.execute(
        "INSERT INTO job (job_id, identity, created_utc, title, setup, closed)"
        " VALUES (?, ?, ?, ?, ?, ?)",
        (job_id, job.identity, job.created_utc, job.title, job.setup, job.closed),
    )
    insert_gauges(connection, job_id, job.gauges)
    insert_entries(connection, job_id, job.entries)
    insert_facts(connection, job_id, job.facts)


def insert_gauges(connection: sqlite3.Connection, job_id: int, gauges: Sequence[GaugeRow]) -> None:
    """Insert the gauges of a job that it does not have yet."""
    connection.executemany(
        "INSERT INTO gauge (job_id, gauge_id, position, info) VALUES (?1, ?2,"
        " (SELECT count(*) FROM gauge WHERE job_id = ?1), ?3) ON CONFLICT DO NOTHING",
        [(job_id, gauge.gauge_id, gauge.info) for gauge in gauges],
    )


def insert_entries(
    connection: sqlite3.Connection, job_id: int, entries: Sequence[EntryRow]
) -> None:
    """Insert entries of a job as they are."""
    connection.executemany(
        "INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?)",
        [(job_id, e.number, e.written_utc, e.origin, e.kind, e.raw, e.detail) for e in entries],
    )


def insert_facts(connection: sqlite3.Connection, job_id: int, facts: Sequence[FactRow]) -> None:
    """Insert facts of a job as they are."""
    connection.executemany(
        "INSERT INTO fact VALUES (?, ?, ?, ?, ?)",
        [(job_id, f.number, f.written_utc, f.name, f.detail) for f in facts],
    )


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


_decode = json.JSONDecoder().raw_decode
_BLANK = re.compile(r"[ \t\r\n]*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A member of the outermost object; of a list, each item, after one numbered 0.

    ``number`` counts the items of a list from 1; it is None for what is no list.
    """

    name: str
    number: int | None
    value: Any


def members(text: str) -> Iterator[Member]:
    """Go through the members of the object that a text holds, in order.

    Raises:
        ValueError: the text is no JSON object.
        RecursionError: an item is nested too deeply.
    """
    at = _after(text, 0, "{")
    while True:
        name, at = _decode(text, _blank(text, at))
        if not isinstance(name, str):
            raise ValueError(f"a name is missing at {at}")
        at = _blank(text, _after(text, at, ":"))
        if text[at : at + 1] == "[":
            yield Member(name=name, number=0, value=None)
            at = yield from _items(text, at + 1, name)
        else:
            value, at = _decode(text, at)
            yield Member(name=name, number=None, value=value)
        at = _blank(text, at)
        if text[at : at + 1] == "}":
            break
        at = _after(text, at, ",")
    if _blank(text, at + 1) != len(text):
        raise ValueError(f"something follows at {at + 1}")


def _items(text: str, at: int, name: str) -> Generator[Member, None, int]:
    """Go through the items of a list; return where it ends."""
    at, number = _blank(text, at), 0
    if text[at : at + 1] == "]":
        return at + 1
    while True:
        number += 1
        value, at = _decode(text, _blank(text, at))
        yield Member(name=name, number=number, value=value)
        at = _blank(text, at)
        if text[at : at + 1] == "]":
            return at + 1
        at = _after(text, at, ",")


def _blank(text: str, at: int) -> int:
    found = _BLANK.match(text, at)
    assert found is not None  # it matches nothing as well
    return found.end()


def _after(text: str, at: int, mark: str) -> int:
    at = _blank(text, at)
    if text[at : at + 1] != mark:
        raise ValueError(f"{mark!r} is missing at {at}")
    return at + 1
