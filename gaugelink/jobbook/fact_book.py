"""The facts of each job, in the journal's file: added and read, never changed."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar, final

from gaugelink.jobbook.book import Book, job_not_found, now_utc
from gaugelink.jobbook.codec import NAME_OF, UnreadableRow, decode_fact, encode_fact
from gaugelink.jobbook.facts import ChoiceVersion, Chosen, Fact, SizeVersion, Span, StoredFact

_Kind = TypeVar("_Kind", bound=Fact)
_ADD = (
    "INSERT INTO fact SELECT ?1, 1 + coalesce(max(number), 0), ?2, ?3, ?4"
    " FROM fact WHERE job_id = ?1"
)
_READ = "SELECT job_id, number, written_utc, name, detail FROM fact"


@final
class FactBook(Book):
    """The facts of all jobs."""

    def add(self, job_id: int, *facts: Fact) -> None:
        """Add facts to a job, durably: all of them, or none.

        Raises:
            JobNotFound: no job has that number.
        """
        with self._writing() as connection:
            self._check_job(connection, job_id)
            connection.executemany(_ADD, [_row(job_id, fact) for fact in facts])

    def add_version(self, job_id: int, version: SizeVersion | ChoiceVersion) -> int:
        """Add a version of a result, durably, unless the latest is the same.

        Returns:
            The number of the version, counted from 1.

        Raises:
            JobNotFound: no job has that number.
        """
        row = _row(job_id, version)
        with self._writing() as connection:
            self._check_job(connection, job_id)
            earlier = connection.execute(
                "SELECT detail FROM fact WHERE name = ? AND job_id = ? ORDER BY number",
                (row[2], job_id),
            ).fetchall()
            if earlier and earlier[-1][0] == row[3]:
                return len(earlier)
            connection.execute(_ADD, row)
        return len(earlier) + 1

    def facts(self, job_id: int) -> tuple[StoredFact, ...]:
        """Return all that was added to a job, in order; nothing for a job that is not there."""
        with self._reading() as connection:
            rows = connection.execute(f"{_READ} WHERE job_id = ? ORDER BY number", (job_id,))
            return tuple(_stored(*row) for row in rows)

    def latest(self, job_id: int, kind: type[_Kind]) -> _Kind | None:
        """Return the last fact of one kind that was added to a job; None if there is none."""
        with self._reading() as connection:
            row = connection.execute(
                f"{_READ} WHERE name = ? AND job_id = ? ORDER BY number DESC LIMIT 1",
                (NAME_OF[kind], job_id),
            ).fetchone()
        if row is None:
            return None
        fact = _stored(*row).fact
        assert isinstance(fact, kind)
        return fact

    def of_kind(self, *kinds: type[Fact]) -> tuple[StoredFact, ...]:
        """Return the facts of some kinds in all jobs, a job after the other, in order."""
        names = [NAME_OF[kind] for kind in kinds]
        marks = ", ".join("?" for _ in names)
        with self._reading() as connection:
            rows = connection.execute(
                f"{_READ} WHERE name IN ({marks}) ORDER BY job_id, number", names
            )
            return tuple(_stored(*row) for row in rows)

    def _check_job(self, connection: sqlite3.Connection, job_id: int) -> None:
        if connection.execute("SELECT 1 FROM job WHERE job_id = ?", (job_id,)).fetchone() is None:
            raise job_not_found(self._path, job_id)


def record_size(path: Path | None, job_id: int, result: Mapping[str, Any], software: str) -> int:
    """Keep a sizing of a job as it is shown; return the number of the version.

    Args:
        path: the journal's file; None for the usual one.
        job_id: the job.
        result: the sizing as JSON data.
        software: the version of gaugelink that made it.

    Raises:
        JournalError: it cannot be kept.
    """
    with FactBook(path) as book:
        return book.add_version(job_id, SizeVersion(result=result, software=software))


def record_choice(path: Path | None, job_id: int, result: Mapping[str, Any], software: str) -> int:
    """Keep a ranking of the stock for a job as it is shown; return the number of the version.

    The figures of a spring that is chosen later are taken from the latest ranking.

    Args:
        path: the journal's file; None for the usual one.
        job_id: the job.
        result: the ranking as JSON data.
        software: the version of gaugelink that made it.

    Raises:
        JournalError: it cannot be kept.
    """
    with FactBook(path) as book:
        return book.add_version(job_id, ChoiceVersion(result=result, software=software))


def chosen_from(ranking: ChoiceVersion, item: str) -> Chosen | None:
    """Return a spring of a ranking with the figures foreseen there; None if it is not in it."""
    picks: Sequence[Mapping[str, Any]] = ranking.result.get("picks", ())
    pick = next((pick for pick in picks if pick.get("item") == item), None)
    if pick is None:
        return None
    return Chosen(
        item=item,
        height_mm=_size_mm(pick, "height"),
        thickness_mm=_size_mm(pick, "thickness"),
        length_mm=_size_mm(pick, "cut_to") or _size_mm(pick, "length"),
        turns=_span(pick.get("turns_usable") or pick.get("turns")),
        hours=_span(pick.get("hours")),
        torque_ratio=_span(pick.get("torque_ratio")),
        amplitude_deg=_span(pick.get("amplitude")),
    )


def _size_mm(pick: Mapping[str, Any], name: str) -> float | None:
    size = pick.get(name)
    return None if size is None else float(size)


def _span(ends: Mapping[str, Any] | None) -> Span | None:
    if ends is None or ends.get("low") is None or ends.get("high") is None:
        return None
    return Span(low=float(ends["low"]), high=float(ends["high"]))


def _row(job_id: int, fact: Fact) -> tuple[int, str, str, str]:
    return job_id, now_utc(), NAME_OF[type(fact)], encode_fact(fact)


def _stored(job_id: int, number: int, written_utc: str, name: str, detail: str) -> StoredFact:
    try:
        fact = decode_fact(name, detail)
    except UnreadableRow as exc:
        raise UnreadableRow(f"fact {number} of job {job_id}: {exc}") from exc
    return StoredFact(job_id=job_id, number=number, written_utc=written_utc, fact=fact)
