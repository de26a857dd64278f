"""Reading jobs back: queries on an open journal that write nothing."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import Any

from gaugelink.capture.acts import Act, Skipped, Taken, Undone
from gaugelink.capture.job import JobRecord
from gaugelink.jobbook.codec import (
    Row,
    UnreadableRow,
    decode,
    decode_act,
    decode_gauge,
    decode_setup,
)
from gaugelink.jobbook.failures import job_not_found
from gaugelink.jobbook.records import Entry, JobLine

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
            acts=tuple(_acts(connection, job_id)),
            closed=bool(closed),
        )


def list_jobs(connection: sqlite3.Connection, limit: int, text: str) -> tuple[JobLine, ...]:
    """Return the newest jobs whose title or date contains ``text``, newest first.

    Raises:
        UnreadableRow: a row that this version did not write.
    """
    wanted = text.casefold()
    jobs = connection.execute(
        "SELECT job_id, created_utc, title, closed FROM job ORDER BY job_id DESC"
    )
    # Matched here and not in SQL, whose LIKE folds the case of ASCII letters only.
    found = (job for job in jobs if wanted in f"{job[1]} {job[2]}".casefold())
    return tuple(_line(connection, *job) for job in islice(found, limit))


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


def _acts(connection: sqlite3.Connection, job_id: int) -> Iterator[Act]:
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


def _line(
    connection: sqlite3.Connection, job_id: int, created_utc: str, title: str, closed: int
) -> JobLine:
    acts = tuple(_acts(connection, job_id))
    return JobLine(
        job_id=job_id,
        created_utc=created_utc,
        title=title,
        closed=bool(closed),
        n_standing=_standing(acts),
        n_taken=sum(isinstance(act, Taken) for act in acts),
    )


def _standing(acts: Iterable[Act]) -> int:
    """Count readings not taken back; an undo never reaches a zero check, and may hit a skip."""
    zeros = 0
    history: dict[str, list[Act]] = {}
    for act in acts:
        if isinstance(act, Taken) and act.is_zero:
            zeros += 1
        elif isinstance(act, Taken | Skipped):
            history.setdefault(act.gauge_id, []).append(act)
        elif isinstance(act, Undone):
            history[act.gauge_id].pop()
    return zeros + sum(isinstance(act, Taken) for stack in history.values() for act in stack)


@contextmanager
def _naming(what: str) -> Iterator[None]:
    try:
        yield
    except UnreadableRow as exc:
        raise UnreadableRow(f"{what}: {exc}") from exc
