"""A whole job as the tables hold it, row for row: what export and import carry across."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass


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
