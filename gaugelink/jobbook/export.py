"""Jobs carried from one book to another by a JSON file, with their gauges' records and facts.

A file is written whole or not at all. It is read an item at a time, each checked before the
next, before anything is added to the book. That takes several transactions where the file is
large, so that others can write meanwhile: who is stopped has whole jobs only, and the same file
again brings the rest.

A job is known by its identity, not by its number. One that is here already is skipped, or
goes on where the file has more of it. One that went different ways in two books is kept
twice, so that nothing is lost; the second time it is known too.
"""

from __future__ import annotations

import json
import sqlite3
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any, TextIO, final

from gaugelink.errors import FileFormatError, refuse_special
from gaugelink.jobbook.book import Book, Told, job_not_found, now_utc, translated, untold
from gaugelink.jobbook.copies import replacing
from gaugelink.jobbook.export_format import (
    KIND,
    SCHEMA,
    BadItem,
    JobRows,
    Member,
    RecordRows,
    digest_of,
    insert_entries,
    insert_facts,
    insert_gauges,
    insert_job,
    job_from,
    job_line,
    members,
    read_record,
    read_rows,
    record_from,
    record_line,
)
from gaugelink.jobbook.gauge_book import REPLACE_RECORD
from gaugelink.jobbook.lookup import all_jobs


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """How many jobs, and records of gauges, were written."""

    n_jobs: int
    n_records: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordIdentity:
    """Which record something tells of: ``name`` stays with the job in every file it is copied to.

    ``sha256`` is that of the job's bytes, acts and facts at one moment: a page and a record
    that agree in it belong together.
    """

    name: str
    sha256: str


@final
class Exporter(Book):
    """Writes jobs of the book to files."""

    def identity(self, job_id: int) -> RecordIdentity:
        """Return the identity that a job has in an export made now.

        Raises:
            JobNotFound: no job has that number.
        """
        with self._reading() as connection:
            (rows,) = self._jobs(connection, [job_id])
        return RecordIdentity(name=rows.identity, sha256=digest_of(rows))

    def write(
        self,
        target: Path,
        job_ids: Sequence[int] = (),
        software: str = "",
        told: Told = untold,
    ) -> Exported:
        """Write jobs to a file, which is there whole when this returns, or as it was before.

        Args:
            target: the file; one that is there is replaced.
            job_ids: which jobs; all when empty.
            software: the version of gaugelink, for whoever reads the file.
            told: is told how many of the jobs are written.

        Raises:
            JobNotFound: no job has one of the numbers.
            JournalError: the journal cannot be read, or the file cannot be written.
        """
        with self._reading() as connection, translated(target, kept=_KEPT, option="--export"):
            wanted = [*dict.fromkeys(job_ids)] or all_jobs(connection)
            with replacing(target) as part, part.open("w", encoding="ascii") as file:
                head: dict[str, Any] = {"kind": KIND, "schema": SCHEMA, "software": software}
                head["written_utc"] = now_utc()
                file.write(json.dumps(head, separators=(",", ":"))[:-1])
                records = _records(connection, wanted)
                n_records = _write_list(file, "gauges", map(record_line, records))
                jobs = _telling(self._jobs(connection, wanted), len(wanted), told)
                n_jobs = _write_list(file, "jobs", map(job_line, jobs))
                file.write("}\n")
        return Exported(n_jobs=n_jobs, n_records=n_records)

    def _jobs(self, connection: sqlite3.Connection, wanted: Iterable[int]) -> Iterator[JobRows]:
        for job_id in wanted:
            job = read_rows(connection, job_id)
            if job is None:
                raise job_not_found(self._path, job_id)
            yield job


def _telling(jobs: Iterable[JobRows], n_jobs: int, told: Told) -> Iterator[JobRows]:
    for n, job in enumerate(jobs, start=1):
        yield job
        told(n, n_jobs)


_KEPT = "nothing was exported, and the journal is as it was"


def _records(connection: sqlite3.Connection, wanted: Iterable[int]) -> Iterator[RecordRows]:
    gauges = connection.execute("SELECT gauge_id, job_id FROM gauge ORDER BY gauge_id").fetchall()
    jobs = frozenset(wanted)
    for gauge_id in dict.fromkeys(gauge for gauge, job in gauges if job in jobs):
        record = read_record(connection, gauge_id)
        if record is not None:
            yield record


def _write_list(file: TextIO, name: str, lines: Iterable[str]) -> int:
    """Write a list with an item a line; return how many."""
    n = 0
    file.write(f',\n"{name}":[')
    for n, line in enumerate(lines, start=1):
        file.write(f"{',' if n > 1 else ''}\n{line}")
    file.write("\n]")
    return n


_READERS: Mapping[str, Callable[[Any], Any]] = {"jobs": job_from, "gauges": record_from}


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFile:
    """What a file holds, read and checked."""

    jobs: tuple[JobRows, ...]
    records: tuple[RecordRows, ...]


def read_job_file(source: Path, told: Told = untold) -> JobFile:
    """Return what an exported file holds; ``told`` is told how much of the file is read.

    Raises:
        FileFormatError: it cannot be read, is not an export, is newer than we are, or damaged.
    """
    path = str(source)
    head: dict[str, Any] = {"kind": None, "schema": None}
    found: dict[str, list[Any]] = {}
    try:
        text = _text(source)
        for member in members(text):
            told(member.at, len(text))
            if member.number is None:
                head[member.name] = member.value
            elif member.number == 0:
                _check_head(path, head)  # before anything of a newer file is looked at
                found[member.name] = []
            elif member.name in _READERS:
                found[member.name].append(_read(path, member))
    except FileFormatError:
        raise
    except (ValueError, RecursionError) as exc:
        raise _refused(path, f"It is damaged or not a JSON object ({exc})") from exc
    _check_head(path, head)
    for name in _READERS:
        if name not in found:
            raise _refused(path, "The list is missing", name)
    return JobFile(jobs=tuple(found["jobs"]), records=tuple(found["gauges"]))


def _read(path: str, member: Member) -> Any:
    try:
        return _READERS[member.name](member.value)
    except BadItem as exc:
        where = f"{member.name} {member.number}"
        raise _refused(path, f"It cannot be taken: {exc}", where) from exc


def _check_head(path: str, head: Mapping[str, Any]) -> None:
    schema = head["schema"]
    if head["kind"] != KIND:
        raise _refused(path, "This is not a file of exported jobs")
    if not isinstance(schema, int) or isinstance(schema, bool) or schema < 1:
        raise _refused(path, f"The schema {schema!r} is not a number", "schema")
    if schema > SCHEMA:
        raise FileFormatError(
            f"It was written by a newer gaugelink (schema {schema}, this one knows {SCHEMA}); "
            "nothing was imported.",
            path=path,
            hint="Update gaugelink, or export it again with the version you have.",
        )


def _text(source: Path) -> str:
    try:
        refuse_special(source)
        return source.read_bytes().decode("utf-8-sig")
    except OSError as exc:
        raise _refused(str(source), f"It cannot be read ({exc.strerror or exc})") from exc


def _refused(path: str, message: str, where: str = "") -> FileFormatError:
    return FileFormatError(
        f"{message}; nothing was imported.",
        path=path,
        where=where,
        hint="Export it again, or import another copy of the file.",
    )


class ImportOutcome(StrEnum):
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
    outcome: ImportOutcome


_HOLD_S = 0.3  # how long a job may still be added before others may write; judgement
# SQLite looks every 100 ms at most whether a lock is gone (sqliteDefaultBusyCallback).
_PAUSE_S = 0.11


@final
class Importer(Book):
    """Adds the jobs of files to the book.

    ``n_taken`` says how many jobs of the file are in the book durably, also of one that failed.
    """

    n_taken = 0

    def take(self, file: JobFile, told: Told = untold) -> tuple[ImportedJob, ...]:
        """Add all jobs and gauge records of a file, durably; ``told`` is told how many are in.

        Each job is added whole or not at all. Where it is stopped or fails, those before it
        stay, and are found to be here when the file is taken again.

        Raises:
            JournalError: they cannot be kept.
        """
        self.n_taken = 0
        imported: list[ImportedJob] = []
        while self.n_taken < len(file.jobs):
            if imported:
                time.sleep(_PAUSE_S)  # who waits for the lock gets it
            imported += self._some(file.jobs[self.n_taken :], _beyond(file))
            self.n_taken = len(imported)
            told(self.n_taken, len(file.jobs))
        with self._writing() as connection:
            numbers = {each.number_there: each.job_id for each in imported}
            for record in file.records:
                _merge_record(connection, record, numbers)
        return tuple(imported)

    def _some(self, jobs: Sequence[JobRows], beyond: int) -> list[ImportedJob]:
        """Add the first of some jobs, as many as fit into the time that the lock is held."""
        imported = []
        with self._writing() as connection:
            until_s = time.monotonic() + _HOLD_S
            for job in jobs:
                imported.append(_take(connection, job, beyond))
                if time.monotonic() > until_s:
                    break
        return imported


def _beyond(file: JobFile) -> int:
    """Return the highest number that a job has in a file."""
    return max((job.job_id for job in file.jobs), default=0)


def _take(connection: sqlite3.Connection, job: JobRows, beyond: int) -> ImportedJob:
    here = _with_identity(connection, job.identity)
    if here is None:
        return _inserted(connection, job, beyond, ImportOutcome.NEW)
    if _goes_on(job.entries, here.entries) and _goes_on(job.facts, here.facts):
        return _found(job, here, ImportOutcome.HERE)
    if _goes_on(here.entries, job.entries) and _goes_on(here.facts, job.facts):
        _extend(connection, here, job)
        return _found(job, here, ImportOutcome.EXTENDED)
    content = digest_of(job._replace(job_id=0))  # whatever its number is there
    apart = job._replace(identity=f"{job.identity} {content}")
    kept = _with_identity(connection, apart.identity)
    if kept is not None:
        return _found(job, kept, ImportOutcome.HERE)
    return _inserted(connection, apart, beyond, ImportOutcome.APART)


def _inserted(
    connection: sqlite3.Connection, job: JobRows, beyond: int, outcome: ImportOutcome
) -> ImportedJob:
    number = _free_number(connection, job.job_id, beyond)
    insert_job(connection, job, number)
    return ImportedJob(number_there=job.job_id, job_id=number, outcome=outcome)


def _found(job: JobRows, here: JobRows, outcome: ImportOutcome) -> ImportedJob:
    return ImportedJob(number_there=job.job_id, job_id=here.job_id, outcome=outcome)


def _extend(connection: sqlite3.Connection, here: JobRows, job: JobRows) -> None:
    insert_gauges(connection, here.job_id, job.gauges)
    insert_entries(connection, here.job_id, job.entries[len(here.entries) :])
    insert_facts(connection, here.job_id, job.facts[len(here.facts) :])
    # A job that went on to be measured anew was closed, and is open again.
    if job.closed or len(job.entries) > len(here.entries):
        connection.execute("UPDATE job SET closed = ? WHERE job_id = ?", (job.closed, here.job_id))


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


def _merge_record(
    connection: sqlite3.Connection, record: RecordRows, numbers: Mapping[int, int]
) -> None:
    """Keep the record that was changed last, and the checks of both, in the order of time.

    ``numbers`` has the jobs here by the number that they had there: a check names its job.
    """
    here = read_record(connection, record.gauge_id)
    if here is None or here.changed_utc < record.changed_utc:
        connection.execute(REPLACE_RECORD, record[:3])
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
