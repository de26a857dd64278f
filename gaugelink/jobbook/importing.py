"""Adding the jobs of a file to the book: all of it in one transaction, or nothing.

A job is known by its identity, not by its number. One that is here already is skipped, or
goes on where the file has more of it. One that went different ways in two books is kept
twice, so that nothing is lost; the second time it is known too.

Joining the record of a gauge that comes from elsewhere with the one that is here.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, final

from gaugelink.jobbook.book import Book
from gaugelink.jobbook.export_format import (
    JobRows,
    RecordRows,
    digest_of,
    insert_entries,
    insert_facts,
    insert_gauges,
    insert_job,
    read_record,
    read_rows,
)
from gaugelink.jobbook.exporting import JobFile


class Outcome(StrEnum):
    """What became of a job of the file."""

    NEW = "new"
    HERE = "already here"
    EXTENDED = "went on"  # the file had more of it
    APART = "kept beside the one that is here"  # each has what the other has not


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportedJob:
    """A job of the file: its number there, its number here, and what became of it."""

    number_there: int
    job_id: int
    outcome: Outcome


@final
class Importer(Book):
    """Adds the jobs of files to the book."""

    def take(self, file: JobFile) -> tuple[ImportedJob, ...]:
        """Add all jobs and gauge records of a file, durably: all of them, or nothing.

        Raises:
            JournalError: they cannot be kept.
        """
        with self._writing() as connection:
            beyond = max((job.job_id for job in file.jobs), default=0)
            imported = tuple(_take(connection, job, beyond) for job in file.jobs)
            numbers = {each.number_there: each.job_id for each in imported}
            for record in file.records:
                merge_record(connection, record, numbers)
        return imported


def _take(connection: sqlite3.Connection, job: JobRows, beyond: int) -> ImportedJob:
    here = _with_identity(connection, job.identity)
    if here is None:
        return _inserted(connection, job, beyond, Outcome.NEW)
    if _goes_on(job.entries, here.entries) and _goes_on(job.facts, here.facts):
        return _found(job, here, Outcome.HERE)
    if _goes_on(here.entries, job.entries) and _goes_on(here.facts, job.facts):
        _extend(connection, here, job)
        return _found(job, here, Outcome.EXTENDED)
    content = digest_of(replace(job, job_id=0))  # whatever its number is there
    apart = replace(job, identity=f"{job.identity} {content}")
    kept = _with_identity(connection, apart.identity)
    if kept is not None:
        return _found(job, kept, Outcome.HERE)
    return _inserted(connection, apart, beyond, Outcome.APART)


def _inserted(
    connection: sqlite3.Connection, job: JobRows, beyond: int, outcome: Outcome
) -> ImportedJob:
    number = _free_number(connection, job.job_id, beyond)
    insert_job(connection, job, number)
    return ImportedJob(number_there=job.job_id, job_id=number, outcome=outcome)


def _found(job: JobRows, here: JobRows, outcome: Outcome) -> ImportedJob:
    return ImportedJob(number_there=job.job_id, job_id=here.job_id, outcome=outcome)


def _extend(connection: sqlite3.Connection, here: JobRows, job: JobRows) -> None:
    insert_gauges(connection, here.job_id, job.gauges)
    insert_entries(connection, here.job_id, job.entries[len(here.entries) :])
    insert_facts(connection, here.job_id, job.facts[len(here.facts) :])
    if job.closed:
        connection.execute("UPDATE job SET closed = 1 WHERE job_id = ?", (here.job_id,))


def _goes_on(shorter: Sequence[object], longer: Sequence[object]) -> bool:
    return shorter == longer[: len(shorter)]


def _with_identity(connection: sqlite3.Connection, identity: str) -> JobRows | None:
    row = connection.execute("SELECT job_id FROM job WHERE identity = ?", (identity,)).fetchone()
    return None if row is None else read_rows(connection, row[0])


def _free_number(connection: sqlite3.Connection, job_id: int, beyond: int) -> int:
    """Return the number a job had there if it is free here, else one that is free in both."""
    taken = connection.execute("SELECT 1 FROM job WHERE job_id = ?", (job_id,)).fetchone()
    if taken is None:
        return job_id
    (last,) = connection.execute("SELECT max(job_id) FROM job").fetchone()
    return 1 + max(int(last), beyond)


_NO_JOB = 0  # of a check whose readings are in no job here


def merge_record(
    connection: sqlite3.Connection, record: RecordRows, numbers: Mapping[int, int]
) -> None:
    """Keep the record that was changed last, and the checks of both, in the order of time.

    Args:
        connection: inside a transaction.
        record: the one that comes in.
        numbers: the jobs here by the number that they had there: a check names its job.
    """
    here = read_record(connection, record.gauge_id)
    if here is None or here.changed_utc < record.changed_utc:
        connection.execute(
            "INSERT INTO gauge_record VALUES (?1, ?2, ?3) ON CONFLICT (gauge_id) DO UPDATE"
            " SET changed_utc = excluded.changed_utc, detail = excluded.detail",
            (record.gauge_id, record.changed_utc, record.detail),
        )
    checks = {_told_apart_by(check): check for check in (here.checks if here else ())}
    for check in record.checks:
        checks.setdefault(_told_apart_by(check), _renumbered(check, numbers))
    connection.execute("DELETE FROM gauge_check WHERE gauge_id = ?", (record.gauge_id,))
    in_order = sorted(checks.values(), key=lambda check: str(json.loads(check)["checked_utc"]))
    connection.executemany(
        "INSERT INTO gauge_check VALUES (?, ?, ?)",
        [(record.gauge_id, n, check) for n, check in enumerate(in_order, start=1)],
    )


def _told_apart_by(check: str) -> str:
    """Return a check without its job, whose number is not the same in two files."""
    values: dict[str, Any] = json.loads(check)
    values.pop("job_id", None)
    return json.dumps(values, sort_keys=True)


def _renumbered(check: str, numbers: Mapping[int, int]) -> str:
    values: dict[str, Any] = json.loads(check)
    values["job_id"] = numbers.get(values["job_id"], _NO_JOB)
    return json.dumps(values)
