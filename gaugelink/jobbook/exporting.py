"""Writing jobs to a JSON file: all of a job, its bytes, gauges, records, checks and facts.

Reading a file of exported jobs, an item at a time: each is checked before the next.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO, final

from gaugelink.errors import FileFormatError
from gaugelink.jobbook.book import Book, job_not_found, now_utc, translated
from gaugelink.jobbook.copies import replacing
from gaugelink.jobbook.export_format import (
    DIGEST,
    KIND,
    SCHEMA,
    BadItem,
    JobRows,
    Member,
    RecordRows,
    all_jobs,
    job_from,
    job_item,
    members,
    read_record,
    read_rows,
    record_from,
    record_item,
)

_line = json.JSONEncoder(separators=(",", ":"), allow_nan=False).encode


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
        return RecordIdentity(name=rows.identity, sha256=job_item(rows)[DIGEST])

    def write(self, target: Path, job_ids: Sequence[int] = (), software: str = "") -> Exported:
        """Write jobs to a file, which is there whole when this returns, or as it was before.

        Args:
            target: the file; one that is there is replaced.
            job_ids: which jobs; all when empty.
            software: the version of gaugelink, for whoever reads the file.

        Raises:
            JobNotFound: no job has one of the numbers.
            JournalError: the journal cannot be read, or the file cannot be written.
        """
        with self._reading() as connection, translated(target, kept=_KEPT):
            wanted = [*dict.fromkeys(job_ids)] or all_jobs(connection)
            with replacing(target) as part, part.open("w", encoding="ascii") as file:
                head = {"kind": KIND, "schema": SCHEMA, "software": software}
                file.write(_line({**head, "written_utc": now_utc()})[:-1])
                records = _records(connection, wanted)
                n_records = _write_list(file, "gauges", (_line(record_item(r)) for r in records))
                jobs = self._jobs(connection, wanted)
                n_jobs = _write_list(file, "jobs", (_line(job_item(job)) for job in jobs))
                file.write("}\n")
        return Exported(n_jobs=n_jobs, n_records=n_records)

    def _jobs(self, connection: sqlite3.Connection, wanted: Iterable[int]) -> Iterator[JobRows]:
        for job_id in wanted:
            job = read_rows(connection, job_id)
            if job is None:
                raise job_not_found(self._path, job_id)
            yield job


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


def read_job_file(source: Path) -> JobFile:
    """Return what an exported file holds.

    Raises:
        FileFormatError: it cannot be read, is no export, is newer than we are, or damaged.
    """
    path = str(source)
    head: dict[str, Any] = {"kind": None, "schema": None}
    found: dict[str, list[Any]] = {}
    try:
        for member in members(_text(source)):
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
        raise _refused(path, f"It is damaged or no JSON object ({exc})") from exc
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
        raise _refused(path, "This is no file of exported jobs")
    if not isinstance(schema, int) or isinstance(schema, bool) or schema < 1:
        raise _refused(path, f"The schema {schema!r} is no number", "schema")
    if schema > SCHEMA:
        raise FileFormatError(
            f"It was written by a newer gaugelink (schema {schema}, this one knows {SCHEMA}); "
            "nothing was imported.",
            path=path,
            hint="Update gaugelink, or export it again with the version you have.",
        )


def _text(source: Path) -> str:
    try:
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
