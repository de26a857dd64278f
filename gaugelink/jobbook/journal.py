"""The journal: keeps jobs and their entries in one SQLite file, durable before acknowledged."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Self, final

from gaugelink.capture.plan import JobRecord, JobSetup
from gaugelink.jobbook import lookup, schema
from gaugelink.jobbook.book import (
    Book,
    as_utc,
    job_not_found,
    job_taken_over,
    now_utc,
    storable,
    translated,
)
from gaugelink.jobbook.codec import encode
from gaugelink.jobbook.entries import Item, StoredEntry, columns_of
from gaugelink.jobbook.lookup import ALL, JobLine, Wanted, find_jobs
from gaugelink.model import GaugeInfo


@final
class Journal(Book):
    """Jobs and everything that happened in them; a context manager.

    ``write`` only gathers; ``commit`` takes the file's write lock, stores what was
    gathered in one transaction, and gives the lock back. So a gauge that streams
    all day leaves other programs room to read and write. Of two programs that
    write the same job, the second is refused.

    Each method that touches the file raises a ``JournalError``: ``JournalFull``,
    ``JournalNotWritable``, ``JournalBusy`` or ``JournalDamaged``. After a commit
    that failed nothing that was gathered for it is stored, and it is forgotten
    here; whoever did not acknowledge it may write it again.
    """

    def __init__(
        self,
        path: Path | None = None,
        *,
        busy_timeout_s: float = schema.BUSY_TIMEOUT_S,
        to_read: bool = False,
    ) -> None:
        super().__init__(path, busy_timeout_s=busy_timeout_s, to_read=to_read)
        # Job, seconds since 1970, item. Rows are made in one go at the commit: code that runs
        # again and again is several times faster than code that is woken for each frame.
        self._gathered: list[tuple[int, float, Item]] = []
        self._last_numbers: dict[int, int] = {}  # of each job, as last seen from here

    @classmethod
    def open(
        cls,
        path: Path | None = None,
        *,
        busy_timeout_s: float = schema.BUSY_TIMEOUT_S,
        to_read: bool = False,
    ) -> Self:
        """Open a journal, with the arguments of ``Book``; make it, and its folder, if need be.

        Raises:
            JournalError: it cannot be made or opened, or is not a journal we know.
        """
        return cls(path, busy_timeout_s=busy_timeout_s, to_read=to_read)

    def close(self) -> None:
        """Store what was gathered, for it did happen, and close the file; safe to call twice."""
        try:
            self.commit()
        finally:
            super().close()

    def create_job(self, setup: JobSetup) -> int:
        """Add a job, durably, and return its number."""
        with self._transaction() as connection:
            cursor = connection.execute(
                "INSERT INTO job (created_utc, title, setup, identity)"
                " VALUES (?, ?, ?, lower(hex(randomblob(16))))",
                (now_utc(), storable(setup.title), encode(setup)),
            )
        job_id = cursor.lastrowid
        assert job_id is not None  # a successful INSERT has one
        self._last_numbers[job_id] = 0
        return job_id

    def add_gauge(self, job_id: int, info: GaugeInfo) -> None:
        """Add a gauge to a job, durably; one that is there already is brought up to date.

        Raises:
            JobNotFound: no job has that number.
        """
        with self._transaction() as connection:
            lookup.last_number(connection, self._path, job_id)
            connection.execute(
                "INSERT INTO gauge (job_id, gauge_id, position, info) VALUES (:job, :gauge,"
                " (SELECT count(*) FROM gauge WHERE job_id = :job), :info)"
                " ON CONFLICT (job_id, gauge_id) DO UPDATE SET info = excluded.info",
                {"job": job_id, "gauge": storable(info.gauge_id), "info": encode(info)},
            )

    def write(self, job_id: int, items: Sequence[Item]) -> None:
        """Gather events and acts, stamped with the present time, for the next ``commit``."""
        now_s = time.time()
        for item in items:
            self._gathered.append((job_id, now_s, item))

    def commit(self) -> None:
        """Store all that was gathered; it is on the disk when this returns.

        Raises:
            JobNotFound: no job has the number that was written to.
            JournalBusy: locked, or another program wrote to the same job meanwhile.
        """
        if self._gathered:
            with self._transaction():
                pass

    def mark_closed(self, job_id: int) -> None:
        """Mark a job as finished, durably, together with what was gathered.

        Raises:
            JobNotFound: no job has that number.
        """
        self._mark(job_id, closed=True)

    def mark_open(self, job_id: int) -> None:
        """Mark a job as not finished, durably, together with what was gathered; as above."""
        self._mark(job_id, closed=False)

    def _mark(self, job_id: int, *, closed: bool) -> None:
        with self._transaction() as connection:
            cursor = connection.execute(
                "UPDATE job SET closed = ? WHERE job_id = ?", (closed, job_id)
            )
            if cursor.rowcount == 0:
                raise job_not_found(self._path, job_id)

    def load(self, job_id: int) -> JobRecord:
        """Return a job as it is stored; what is gathered and not committed is not in it.

        Raises:
            JobNotFound: no job has that number.
        """
        with self._reading() as connection:
            record = lookup.read_job(connection, self._path, job_id)
            self._last_numbers[job_id] = lookup.last_number(connection, self._path, job_id)
        return record

    def jobs(self, limit: int = 20, wanted: Wanted = ALL) -> tuple[JobLine, ...]:
        """Return the newest jobs, newest first, of those that have what is wanted."""
        with self._reading() as connection:
            return find_jobs(connection, wanted, limit)

    def numbers(self) -> tuple[int, ...]:
        """Return the numbers of all jobs, the oldest first."""
        with self._reading() as connection:
            return tuple(lookup.all_jobs(connection))

    def events(self, job_id: int) -> Iterator[StoredEntry]:
        """Go through all that is stored of a job, undecodable bytes included, in order.

        Raises:
            JobNotFound: no job has that number.
        """
        number = 0
        with translated(self._path):
            lookup.last_number(self._connection, self._path, job_id)
        while True:
            with translated(self._path):
                entries = lookup.read_entries(self._connection, job_id, after=number)
            if not entries:
                return
            yield from entries
            number = entries[-1].number

    def latest_open(self) -> int | None:
        """Return the newest job that is not closed, or None."""
        with translated(self._path):
            query = "SELECT max(job_id) FROM job WHERE NOT closed"
            (job_id,) = self._connection.execute(query).fetchone()
        return None if job_id is None else int(job_id)

    @contextmanager
    def _transaction(self) -> Iterator[sqlite3.Connection]:
        """Store what was gathered and what the block adds: all of it, or nothing."""
        gathered, self._gathered = self._gathered, []
        with self._writing() as connection:
            last_numbers = self._store(gathered)
            yield connection
        self._last_numbers |= last_numbers

    def _store(self, gathered: Sequence[tuple[int, float, Item]]) -> dict[int, int]:
        """Insert items as rows; return the last number of each job they belong to."""
        numbers: dict[int, int] = {}
        rows = []
        for job_id, written_s, item in gathered:
            if job_id not in numbers:
                numbers[job_id] = self._checked_last_number(job_id)
            numbers[job_id] += 1
            rows.append((job_id, numbers[job_id], as_utc(written_s), *columns_of(item)))
        self._connection.executemany("INSERT INTO entry VALUES (?, ?, ?, ?, ?, ?, ?)", rows)
        return numbers

    def _checked_last_number(self, job_id: int) -> int:
        number = lookup.last_number(self._connection, self._path, job_id)
        if number != self._last_numbers.get(job_id, number):
            raise job_taken_over(self._path, job_id)
        return number


@dataclass(frozen=True, slots=True, kw_only=True)
class JobKeeper:
    """One job of an open journal, as whoever writes its events sees it."""

    journal: Journal
    job_id: int

    def write(self, items: Sequence[Item]) -> None:
        """Gather events and acts for the next ``commit``."""
        self.journal.write(self.job_id, items)

    def commit(self) -> None:
        """Make everything written so far durable; raises as ``Journal.commit``."""
        self.journal.commit()
