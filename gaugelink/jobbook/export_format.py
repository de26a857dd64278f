"""Jobs as a JSON file that other programs can read, and back again, byte for byte.

A whole job is carried across row for row, as the tables hold it, and is one line of the
file. Bytes from the wire are base64. What the tables hold as JSON is in the file as
JSON too; a text that would not come back letter for letter (it was written by an older
version, or holds an infinity) is a string there instead. Every item carries the
SHA-256 of all that it holds, so that a damaged file is noticed.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
import sqlite3
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any, NamedTuple, TypeAlias

from gaugelink.capture.plan import JobSetup
from gaugelink.jobbook.book import storable
from gaugelink.jobbook.codec import UnreadableRow, decode, json_in
from gaugelink.jobbook.entries import EntryColumns, fault_of, item_of
from gaugelink.jobbook.facts import decode_fact
from gaugelink.jobbook.gauge_book import decode_check, decode_record
from gaugelink.model import GaugeInfo

SCHEMA = 1
KIND = "gaugelink jobs"
DIGEST = "sha256"
_MOST = 2**31 - 1  # a number of a job, entry or fact beyond this is not a number of ours
Item: TypeAlias = dict[str, Any]


class GaugeRow(NamedTuple):
    """A gauge of a job; ``info`` is its JSON."""

    gauge_id: str
    info: str


class EntryRow(NamedTuple):
    """An event or act; ``detail`` is its JSON, ``raw`` the bytes from the wire."""

    number: int
    written_utc: str
    origin: str
    kind: str
    raw: bytes | None
    detail: str


class FactRow(NamedTuple):
    """A fact; ``detail`` is its JSON."""

    number: int
    written_utc: str
    name: str
    detail: str


class JobRows(NamedTuple):
    """A job; ``identity`` stays with it in every file, ``job_id`` is its number in this one."""

    job_id: int
    identity: str
    created_utc: str
    title: str
    closed: bool
    setup: str
    gauges: tuple[GaugeRow, ...]
    entries: tuple[EntryRow, ...]
    facts: tuple[FactRow, ...]


class RecordRows(NamedTuple):
    """The record of a gauge and its checks, the oldest first, all of them as JSON."""

    gauge_id: str
    changed_utc: str
    detail: str
    checks: tuple[str, ...]


def read_rows(connection: sqlite3.Connection, job_id: int) -> JobRows | None:
    """Return a job; None when no job has that number."""

    def rows(columns: str, table: str, order: str = "number") -> list[Any]:
        query = f"SELECT {columns} FROM {table} WHERE job_id = ? ORDER BY {order}"
        return connection.execute(query, (job_id,)).fetchall()

    job = rows("identity, created_utc, title, closed, setup", "job", "job_id")
    if not job:
        return None
    identity, created_utc, title, closed, setup = job[0]
    entries = rows("number, written_utc, origin, kind, raw, detail", "entry")
    return JobRows(
        job_id=job_id,
        identity=identity,
        created_utc=created_utc,
        title=title,
        closed=bool(closed),
        setup=setup,
        gauges=tuple(map(GaugeRow._make, rows("gauge_id, info", "gauge", "position"))),
        entries=tuple(map(EntryRow._make, entries)),
        facts=tuple(map(FactRow._make, rows("number, written_utc, name, detail", "fact"))),
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
    changed_utc, detail = record
    return RecordRows(gauge_id, changed_utc, detail, tuple(check for (check,) in checks))


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
        [(job_id, *entry) for entry in entries],
    )


def insert_facts(connection: sqlite3.Connection, job_id: int, facts: Sequence[FactRow]) -> None:
    """Insert facts of a job as they are."""
    connection.executemany(
        "INSERT INTO fact VALUES (?, ?, ?, ?, ?)",
        [(job_id, *fact) for fact in facts],
    )


class BadItem(ValueError):
    """An item of the file does not hold what it should; the reader says which one."""


def job_line(job: JobRows) -> str:
    """Return a job as an item of the file, in JSON."""
    return _signed(job, _JOB)


def record_line(record: RecordRows) -> str:
    """Return the record of a gauge as an item of the file, in JSON."""
    return _signed(record, _RECORD)


def _signed(row: JobRows | RecordRows, columns: _Columns) -> str:
    (item,) = _written([row], columns)
    return f'{item[:-1]},"{DIGEST}":"{digest_of(row)}"}}'


def job_from(item: Any) -> JobRows:
    """Return the job of an item.

    Raises:
        BadItem: it was changed, or holds what this version cannot read.
    """
    job: JobRows = _row(JobRows, _JOB, item)
    _check_digest(item, job)
    try:
        _check_readable(job)
    except UnreadableRow as exc:
        raise BadItem(str(exc)) from exc
    return job


def record_from(item: Any) -> RecordRows:
    """Return the gauge record of an item; raises as ``job_from``."""
    record: RecordRows = _row(RecordRows, _RECORD, item)
    _check_digest(item, record)
    try:
        decode_record(record.detail, tuple(decode_check(check) for check in record.checks))
    except UnreadableRow as exc:
        raise BadItem(str(exc)) from exc
    return record


def _check_readable(job: JobRows) -> None:
    decode(JobSetup, job.setup)
    for gauge in job.gauges:
        decode(GaugeInfo, gauge.info)
    for entry in job.entries:
        columns = EntryColumns(entry.origin, entry.kind, entry.raw, entry.detail)
        if fault := fault_of(columns, item=item_of(columns)):
            raise BadItem(f"entry {entry.number}: {fault}")
    for fact in job.facts:
        decode_fact(fact.name, fact.detail)
    for rows in (job.entries, job.facts):
        numbers = [row.number for row in rows]  # a rescued job has gaps
        if numbers != sorted(set(numbers)):
            raise BadItem("its numbers are not in order")


def digest_of(rows: JobRows | RecordRows) -> str:
    """Return the SHA-256 of all that rows hold, in hex; their layout in a file does not matter."""
    # The columns in the order of the tables, never their names: what was signed stays signed.
    signed: Sequence[object] = rows
    if isinstance(rows, JobRows):
        signed = (*rows[:4], rows.setup, rows.closed, *rows[6:])
    return hashlib.sha256(_flat(signed).encode("ascii")).hexdigest()


_flat = json.JSONEncoder(separators=(",", ":"), default=bytes.hex).encode


def _check_digest(item: Item, rows: JobRows | RecordRows) -> None:
    if _of(item, DIGEST, str) != digest_of(rows):
        raise BadItem("it was changed or damaged since it was written")


# --- how a column of a row is in an item, and how it is read there --------------------------


_compact = json.JSONEncoder(separators=(",", ":"), allow_nan=False).encode


def _plain(values: Sequence[Any]) -> list[str]:
    return [str(value) if type(value) is int else _compact(value) for value in values]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    """How a column is read from the member of an item, and written as JSON, of all rows at once."""

    read: Callable[[Any, str], Any]
    write: Callable[[Sequence[Any]], list[str]] = _plain


_Columns: TypeAlias = Mapping[str, _Column]  # by the names in the file, in the order of the row


def _written(rows: Sequence[Sequence[object]], columns: _Columns) -> list[str]:
    """Return rows as items in JSON; a column at a time, which costs a third of a row at a time."""
    form = ",".join(f'"{name}":%s' for name in columns)
    texts_of = (
        column.write(values)
        for column, values in zip(columns.values(), zip(*rows, strict=True), strict=True)
    )
    return [f"{{{form}}}" % texts for texts in zip(*texts_of, strict=True)] if rows else []


def _row(cls: Callable[..., Any], columns: _Columns, item: Any) -> Any:
    return cls(*(column.read(item, name) for name, column in columns.items()))


def _of(item: Any, name: str, kind: Any) -> Any:
    if not isinstance(item, dict) or not isinstance(value := item.get(name), kind):
        raise BadItem(f"{name} is missing or wrong")
    if kind is int and (isinstance(value, bool) or not 0 < value <= _MOST):
        raise BadItem(f"{name} is not a number of ours")
    if isinstance(value, str) and not value.isascii() and storable(value) != value:
        raise BadItem(f"{name} contains an invalid character")
    return value


def _moment(item: Any, name: str) -> str:
    moment: str = _of(item, name, str)
    try:
        datetime.fromisoformat(moment)
    except ValueError as exc:
        raise BadItem(f"{name} is not a date and time: {exc}") from exc
    return moment


def _bytes(item: Any, name: str) -> bytes | None:
    encoded = item.get(name) if isinstance(item, dict) else None
    try:
        return None if encoded is None else base64.b64decode(encoded, validate=True)
    except (TypeError, ValueError) as exc:
        raise BadItem(f"{name}: {exc}") from exc


def _base64(values: Sequence[bytes | None]) -> list[str]:
    return [
        "null" if raw is None else f'"{base64.b64encode(raw).decode("ascii")}"' for raw in values
    ]


def _json(between: str, behind_name: str) -> _Column:
    encode = json.JSONEncoder(separators=(between, behind_name), allow_nan=False).encode

    def are_data(texts: Sequence[str]) -> bool:
        """Tell whether each text comes back letter for letter when it is read and written.

        They are written together, which is quicker: each of them is one object and nothing
        more, so that where the whole agrees, each of them does.
        """
        if not all(text[:1] == "{" and text[-1:] == "}" for text in texts):
            return False
        try:
            return encode([json_in(text) for text in texts]) == f"[{between.join(texts)}]"
        except (ValueError, RecursionError):
            return False

    def opened(texts: Sequence[str]) -> list[str]:
        """Return JSON texts as data if that gives back the very texts, else as texts."""
        if not are_data(texts):
            if len(texts) > 1:
                return [data for text in texts for data in opened([text])]
            return [_compact(text) for text in texts]
        if (between, behind_name) == (",", ":"):  # as the file has it
            return [*texts]
        return [_compact(json_in(text)) for text in texts]

    def closed(item: Any, name: str) -> str:
        data = _of(item, name, (dict, str))
        try:
            return data if isinstance(data, str) else encode(data)
        except ValueError as exc:
            raise BadItem(str(exc)) from exc

    return _Column(read=closed, write=opened)


def _rows(cls: Callable[..., Any], columns: _Columns) -> _Column:
    return _Column(
        read=lambda item, name: tuple(_row(cls, columns, each) for each in _of(item, name, list)),
        write=lambda lists: [f"[{','.join(_written(rows, columns))}]" for rows in lists],
    )


_NUMBER, _TEXT, _BOOL = (_Column(read=partial(_of, kind=kind)) for kind in (int, str, bool))
_UTC = _Column(read=_moment)
# As the tables of jobs hold JSON, and as those of gauge records do.
_COMPACT, _SPACED = _json(",", ":"), _json(", ", ": ")
_GAUGE = {"gauge_id": _TEXT, "info": _COMPACT}
_ENTRY = {
    "number": _NUMBER,
    "written_utc": _UTC,
    "origin": _TEXT,
    "kind": _TEXT,
    "raw_base64": _Column(read=_bytes, write=_base64),
    "detail": _COMPACT,
}
_FACT = {"number": _NUMBER, "written_utc": _UTC, "name": _TEXT, "detail": _COMPACT}
_JOB = {
    "job": _NUMBER,
    "identity": _TEXT,
    "created_utc": _UTC,
    "title": _TEXT,
    "closed": _BOOL,
    "setup": _COMPACT,
    "gauges": _rows(GaugeRow, _GAUGE),
    "entries": _rows(EntryRow, _ENTRY),
    "facts": _rows(FactRow, _FACT),
}
_CHECKS = _Column(
    read=lambda item, name: tuple(
        _SPACED.read({"check": each}, "check") for each in _of(item, name, list)
    ),
    write=lambda lists: [f"[{','.join(_SPACED.write(checks))}]" for checks in lists],
)
_RECORD = {"gauge_id": _TEXT, "changed_utc": _UTC, "record": _SPACED, "checks": _CHECKS}


# --- a large file, an item at a time: it need not all be objects ---------------------------------

_decode = json.JSONDecoder().raw_decode
_BLANK = re.compile(r"[ \t\r\n]*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A member of the outermost object; of a list, each item, after one numbered 0.

    ``number`` counts the items of a list from 1; it is None for what is not a list. ``at`` is
    where it ends in the text.
    """

    name: str
    number: int | None
    value: Any
    at: int


def members(text: str) -> Iterator[Member]:
    """Go through the members of the object that a text holds, in order.

    Raises:
        ValueError: the text is not a JSON object.
        RecursionError: an item is nested too deeply.
    """
    at = _after(text, 0, "{")
    while True:
        name, at = _decode(text, _blank(text, at))
        if not isinstance(name, str):
            raise ValueError(f"a name is missing at {at}")
        at = _blank(text, _after(text, at, ":"))
        if text[at : at + 1] == "[":
            yield Member(name=name, number=0, value=None, at=at)
            at = yield from _items(text, at + 1, name)
        else:
            value, at = _decode(text, at)
            yield Member(name=name, number=None, value=value, at=at)
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
        yield Member(name=name, number=number, value=value, at=at)
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
