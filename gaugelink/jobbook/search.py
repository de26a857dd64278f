"""Finding jobs by text, date and size: queries on an open journal that write nothing."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

from gaugelink.capture.acts import Act, Skipped, Taken, Undone
from gaugelink.jobbook.codec import UnreadableRow
from gaugelink.jobbook.lookup import read_acts
from gaugelink.jobbook.records import JobLine

# The facts in which a text is looked for: what a person typed, not results.
_TYPED = ("movement", "reference", "note", "train", "chosen", "after")


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
    looked_at = n_undone and "skipped" in counts
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
