"""Finding jobs and reading them back: queries on an open journal that write nothing."""

from __future__ import annotations

import json
import sqlite3
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any, TypeVar

from gaugelink.capture.acts import Act
from gaugelink.capture.plan import JobRecord, JobSetup
from gaugelink.capture.progress import Progress
from gaugelink.jobbook.book import Told, job_not_found, untold
from gaugelink.jobbook.codec import UnreadableRow, decode
from gaugelink.jobbook.entries import EntryColumns, Item, StoredEntry, act_of, fault_of, item_of
from gaugelink.model import GaugeInfo

_Read = TypeVar("_Read", bound=Item)
_PAGE = 500  # entries read at a time: a streamed hour need not fit in memory


def all_jobs(connection: sqlite3.Connection) -> list[int]:
    """Return the numbers of all jobs, the oldest first."""
    return [job for (job,) in connection.execute("SELECT job_id FROM job ORDER BY job_id")]


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
    with _naming(lambda: f"job {job_id}"):
        return JobRecord(
            job_id=job_id,
            created_utc=created_utc,
            setup=decode(JobSetup, setup),
            gauges=tuple(decode(GaugeInfo, info) for (info,) in gauges),
            acts=tuple(read_acts(connection, job_id)),
            closed=bool(closed),
        )


def read_entries(connection: sqlite3.Connection, job_id: int, after: int) -> list[StoredEntry]:
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


def _entry(job_id: int, number: int, written_utc: str, *columns: Any) -> StoredEntry:
    row = EntryColumns(*columns)
    with _naming(lambda: f"entry {number} of job {job_id}"):
        item = _agreeing(item_of, row)
    return StoredEntry(
        number=number, written_utc=written_utc, kind=row.kind, raw=row.raw, item=item
    )


def read_acts(connection: sqlite3.Connection, job_id: int) -> Iterator[Act]:
    """Go through the acts of a job, in order; none for a job that is not there.

    Raises:
        UnreadableRow: a row that this version did not write.
    """
    rows = connection.execute(f"{_ACTS} ORDER BY act.number", (job_id,))
    number = 0
    with _naming(lambda: f"entry {number} of job {job_id}"):
        for at, *columns in rows:
            number = at
            row, before = EntryColumns(*columns[:4]), EntryColumns(*columns[4:])
            yield _agreeing(act_of, row, before)


# Each act with the row before it, which for a reading that was taken is what the gauge sent.
_ACTS = (
    "SELECT act.number, act.origin, act.kind, act.raw, act.detail,"
    " sent.origin, sent.kind, sent.raw, sent.detail FROM entry AS act INDEXED BY act"
    " LEFT JOIN entry AS sent ON sent.job_id = act.job_id AND sent.number = act.number - 1"
    " WHERE act.job_id = ? AND act.origin = 'job'"
)


def _agreeing(
    read: Callable[[EntryColumns], _Read], row: EntryColumns, before: EntryColumns | None = None
) -> _Read:
    """Return what a row holds, unless it is a reading that contradicts itself."""
    item = read(row)
    if fault := fault_of(row, before, item):
        raise UnreadableRow(fault)
    return item


def check_readings(connection: sqlite3.Connection, told: Told = untold) -> None:
    """Look whether every reading that is stored agrees with itself.

    ``told`` is told how many entries were looked at.

    Raises:
        UnreadableRow: the first that does not, with its place.
    """
    rows = connection.execute(
        "SELECT job_id, number, origin, kind, raw, detail FROM entry ORDER BY job_id, number"
    )
    before: tuple[int, EntryColumns] | None = None
    (n_entries,) = connection.execute("SELECT count(*) FROM entry").fetchone()
    place = (0, 0)
    with _naming(lambda: "entry {1} of job {0}".format(*place)):
        for n, (job_id, number, *columns) in enumerate(rows):
            if n % _PAGE == 0:
                told(n, n_entries)
            place, row = (job_id, number), EntryColumns(*columns)
            if fault := fault_of(row, before[1] if before and before[0] == job_id else None):
                raise UnreadableRow(fault)
            before = (job_id, row)


@contextmanager
def _naming(what: Callable[[], str]) -> Iterator[None]:
    try:
        yield
    except UnreadableRow as exc:
        raise UnreadableRow(f"{what()}: {exc}") from exc


# The facts in which a text is looked for: what a person typed, not results.
_TYPED = ("movement", "reference", "particulars", "note", "train", "chosen", "after")


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLine:
    """One job in a list.

    ``n_taken`` counts every reading ever taken, zero checks included;
    ``n_standing`` leaves out those that were taken back or superseded.
    """

    job_id: int
    created_utc: str
    title: str
    closed: bool
    n_standing: int
    n_taken: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a job must have to be listed; whatever is left empty does not matter.

    ``text`` is looked for in the title, the date and all that a person typed of the job.
    ``first`` and ``last`` are days, months or years as ISO 8601 writes them, in UTC, both
    included. ``among`` are the jobs to choose from; None for all.
    """

    text: str = ""
    first: str = ""
    last: str = ""
    among: Collection[int] | None = None


ALL = Wanted()


def find_jobs(connection: sqlite3.Connection, wanted: Wanted, limit: int) -> tuple[JobLine, ...]:
    """Return the newest jobs that have what is wanted, newest first.

    Raises:
        UnreadableRow: a row that this version did not write.
    """
    jobs = connection.execute(
        "SELECT job_id, created_utc, title, closed FROM job ORDER BY job_id DESC"
    )
    texts = _texts(connection) if wanted.text else {}
    found = (job for job in jobs if _fits(wanted, job[0], [job[1], job[2], *texts.get(job[0], ())]))
    return tuple(_line(connection, *job) for job in islice(found, limit))


def _fits(wanted: Wanted, job_id: int, texts: Sequence[str]) -> bool:
    """Decide about a job; the first of its texts is when it was begun."""
    if wanted.among is not None and job_id not in wanted.among:
        return False
    begun_utc, sought = texts[0], wanted.text.casefold()
    if begun_utc < wanted.first or (wanted.last and begun_utc[: len(wanted.last)] > wanted.last):
        return False
    # Matched here and not in SQL, whose LIKE folds the case of ASCII letters only.
    return any(sought in text.casefold() for text in texts)


def _texts(connection: sqlite3.Connection) -> dict[int, list[str]]:
    marks = ", ".join("?" for _ in _TYPED)
    rows = connection.execute(f"SELECT job_id, detail FROM fact WHERE name IN ({marks})", _TYPED)
    texts: dict[int, list[str]] = {}
    for job_id, detail in rows:
        try:
            texts.setdefault(job_id, []).extend(_words(json.loads(detail)))
        except ValueError as exc:
            raise UnreadableRow(f"a fact of job {job_id}: {exc}") from exc
    return texts


def _words(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for each in value.values():
            yield from _words(each)


def _line(
    connection: sqlite3.Connection, job_id: int, created_utc: str, title: str, closed: int
) -> JobLine:
    counted = connection.execute(
        "SELECT kind, count(*) FROM entry INDEXED BY act"
        " WHERE job_id = ? AND origin = 'job' GROUP BY kind",
        (job_id,),
    )
    counts = dict(counted.fetchall())
    n_taken, n_undone = counts.get("taken", 0), counts.get("undone", 0)
    # An undo takes back a reading, or a skip: only where there are both is it looked at.
    looked_at = "superseded" in counts or (n_undone and "skipped" in counts)
    n_standing = _standing(read_acts(connection, job_id)) if looked_at else n_taken - n_undone
    return JobLine(
        job_id=job_id,
        created_utc=created_utc,
        title=title,
        closed=bool(closed),
        n_standing=n_standing,
        n_taken=n_taken,
    )


def _standing(acts: Iterable[Act]) -> int:
    """Count the readings that stand, zeros among them."""
    folded: defaultdict[str, Progress] = defaultdict(lambda: Progress(()))
    for act in acts:
        folded[act.gauge_id].apply(act)
    return sum(progress.n_standing for progress in folded.values())
