"""Reading jobs back: queries on an open journal that write nothing."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from gaugelink.capture.acts import Act
from gaugelink.capture.plan import JobRecord
from gaugelink.jobbook.codec import (
    Row,
    UnreadableRow,
    decode,
    decode_act,
    decode_gauge,
    decode_setup,
)
from gaugelink.jobbook.failures import job_not_found
from gaugelink.jobbook.records import Entry

_PAGE = 500  # entries read at a time: a streamed hour need not fit in memory


def last_number(connection: sqlite3.Connection, path: Path, job_id: int) -> int:
    """Return the number of the job's last entry; 0 when it has none.

    Raises:
        JobNotFound: no job has that number.
    """
    found = connection.execute(
        "SELECT (SELECT max(number) FROM entry WHERE entry.job_id = job.job_id)"
        " FROM job WHERE job_id = ?",
        (job_id,),
    ).fetchone()
    if found is None:
        raise job_not_found(path, job_id)
    return found[0] or 0


def read_job(connection: sqlite3.Connection, path: Path, job_id: int) -> JobRecord:
    """Return a job with its gauges and acts.

    Raises:
        JobNotFound: no job has that number.
        UnreadableRow: a row that this version did not write.
    """
    job = connection.execute(
        "SELECT created_utc, setup, closed FROM job WHERE job_id = ?", (job_id,)
    ).fetchone()
    if job is None:
        raise job_not_found(path, job_id)
    created_utc, setup, closed = job
    gauges = connection.execute(
        "SELECT info FROM gauge WHERE job_id = ? ORDER BY position", (job_id,)
    )
    with _naming(f"job {job_id}"):
        return JobRecord(
            job_id=job_id,
            created_utc=created_utc,
            setup=decode_setup(setup),
            gauges=tuple(decode_gauge(info) for (info,) in gauges),
            acts=tuple(read_acts(connection, job_id)),
            closed=bool(closed),
        )


def latest_open_job(connection: sqlite3.Connection) -> int | None:
    """Return the newest job that is not closed, or None."""
    (job_id,) = connection.execute("SELECT max(job_id) FROM job WHERE NOT closed").fetchone()
    return None if job_id is None else int(job_id)


def read_entries(connection: sqlite3.Connection, job_id: int, after: int) -> list[Entry]:
    """Return the next entries after number ``after``, in order; none at the end.

    Raises:
        UnreadableRow: a row that this version did not write.
    """
    rows = connection.execute(
        "SELECT number, written_utc, origin, kind, raw, detail FROM entry"
        " WHERE job_id = ? AND number > ? ORDER BY number LIMIT ?",
        (job_id, after, _PAGE),
    )
    return [_entry(job_id, *row) for row in rows]


def _entry(job_id: int, number: int, written_utc: str, *columns: Any) -> Entry:
    row = _row(*columns)
    with _naming(f"entry {number} of job {job_id}"):
        item = decode(row)
    return Entry(number=number, written_utc=written_utc, kind=row.kind, raw=row.raw, item=item)


def read_acts(connection: sqlite3.Connection, job_id: int) -> Iterator[Act]:
    """Go through the acts of a job, in order; none for a job that is not there.

    Raises:
        UnreadableRow: a row that this version did not write.
    """
    rows = connection.execute(
        "SELECT number, origin, kind, raw, detail FROM entry INDEXED BY act"
        " WHERE job_id = ? AND origin = 'job' ORDER BY number",
        (job_id,),
    )
    for number, *columns in rows:
        with _naming(f"entry {number} of job {job_id}"):
            yield decode_act(_row(*columns))


def _row(origin: str, kind: str, raw: bytes | None, detail: str) -> Row:
    return Row(origin=origin, kind=kind, raw=raw, detail=detail)


@contextmanager
def _naming(what: str) -> Iterator[None]:
    try:
        yield
    except UnreadableRow as exc:
        raise UnreadableRow(f"{what}: {exc}") from exc
