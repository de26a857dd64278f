"""Copying all that can still be read of a damaged journal into a new one.

The damaged file is only read, and through a copy of it: each table from both ends, and past
the bad places. A row comes across when this version can read it. Of a job whose own row is
lost the entries still come across, under its number; a reading that was taken back while its
taking is lost stays taken back.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

from gaugelink.capture.acts import Skipped, Superseded, Taken, Undone
from gaugelink.capture.plan import JobSetup, make_plan
from gaugelink.errors import InputError, JournalDamaged
from gaugelink.jobbook import schema
from gaugelink.jobbook.book import Told, now_utc, storable, transaction, translated, untold
from gaugelink.jobbook.codec import UnreadableRow, decode, encode
from gaugelink.jobbook.copies import checked, refuse_missing, replacing
from gaugelink.jobbook.entries import EntryColumns, fault_of, item_of
from gaugelink.jobbook.facts import decode_fact
from gaugelink.jobbook.gauge_book import decode_check, decode_record
from gaugelink.model import GaugeInfo

_TITLE = "rescued: its title is lost"
_KEPT = "the damaged journal is as it was"
_LOGS = ("-wal", "-journal")
# What else is copied, with what says whether a row can be read; the sizes of jobs are
# made again from their entries.
_OTHER: Mapping[str, tuple[tuple[str, ...], Callable[[Line], object]]] = {
    "gauge": (("job_id", "gauge_id"), lambda line: decode(GaugeInfo, line["info"])),
    "known_gauge": (("gauge_id",), lambda line: line["detail"]),
    "gauge_record": (("gauge_id",), lambda line: decode_record(line["detail"])),
    "gauge_check": (("gauge_id", "number"), lambda line: decode_check(line["detail"])),
    "stock_spring": (("item",), lambda line: line["detail"]),
    "stock_use": (("number",), lambda line: line["count"]),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RescuedJob:
    """A job that came across, with the numbers of entries that are missing."""

    job_id: int
    n_entries: int
    lost: tuple[int, ...]
    contradicting: tuple[int, ...] = ()  # of the lost, readings that do not agree with themselves


@dataclass(frozen=True, slots=True, kw_only=True)
class Rescued:
    """What came across."""

    path: Path
    jobs: tuple[RescuedJob, ...]


def rescue(path: Path, target: Path, told: Told = untold) -> Rescued:
    """Copy what can be read of a journal into a new one, and check that.

    Args:
        path: the damaged journal, which is not changed.
        target: the new journal; nothing may be there.
        told: is told how many of the jobs were looked at.

    Raises:
        InputError: ``target`` is there.
        JournalError: nothing at all can be read, or the new one cannot be written.
    """
    refuse_missing(path)
    if os.path.exists(target):
        raise InputError(f"{target} is there already.", hint="Name a new file.")
    with translated(target, _KEPT, option="--rescue"):
        target.parent.mkdir(parents=True, exist_ok=True)
        with (
            tempfile.TemporaryDirectory(dir=target.parent, prefix="rescue-") as folder,
            closing(_damaged(path, Path(folder))) as source,
            replacing(target) as part,
            closing(schema.connect(part)) as copy,
        ):
            part.chmod(stat.S_IMODE(path.stat().st_mode))  # as private as the damaged one
            copy.execute("PRAGMA foreign_keys = OFF")  # a row may outlive what it refers to
            with transaction(copy, "BEGIN IMMEDIATE"):
                jobs = tuple(_jobs(source, copy, told))
                _copy_others(source, copy)
            copy.execute("PRAGMA journal_mode = DELETE")
            if not jobs:
                raise _nothing(path)
            checked(copy, target)
    return Rescued(path=target, jobs=jobs)


def _damaged(path: Path, folder: Path) -> sqlite3.Connection:
    """Open a copy of a journal, with its log: opening the file itself could change it."""
    copy = folder / "damaged.sqlite"
    shutil.copyfile(path, copy)
    for log in _LOGS:
        beside = path.with_name(path.name + log)
        if beside.exists():
            shutil.copyfile(beside, copy.with_name(copy.name + log))
    connection = sqlite3.connect(copy, isolation_level=None)
    connection.text_factory = lambda text: text.decode("utf-8", "surrogateescape")
    return connection


def _jobs(source: sqlite3.Connection, copy: sqlite3.Connection, told: Told) -> Iterator[RescuedJob]:
    heads = {line["job_id"]: line for line in readable(source, "job", ("job_id",))}
    entries = readable(source, "entry", ("job_id", "number"))
    known = {each for each in (*heads, *(e["job_id"] for e in entries)) if isinstance(each, int)}
    numbers_of_jobs = sorted(each for each in known if each > 0)
    for n, job_id in enumerate(numbers_of_jobs):
        told(n, len(numbers_of_jobs))
        contradicting: list[int] = []
        read = readable_of_job(source, "entry", job_id)
        rows = [*_sound_entries(read, contradicting)]
        head = _sound_head(heads.get(job_id))
        if head is None and not rows:
            continue
        _insert(copy, "job", [head or _head(job_id, rows)])
        _insert(copy, "entry", rows)
        facts = readable_of_job(source, "fact", job_id)
        _insert(copy, "fact", [line for line in facts if _is_sound(line, _read_fact)])
        numbers = {line["number"] for line in rows}
        lost = {*range(1, max(numbers, default=0)), *contradicting} - numbers
        yield RescuedJob(
            job_id=job_id,
            n_entries=len(rows),
            lost=tuple(sorted(lost)),
            contradicting=tuple(contradicting),
        )


def _copy_others(source: sqlite3.Connection, copy: sqlite3.Connection) -> None:
    for table, (key, read) in _OTHER.items():
        lines = readable(source, table, key)
        _insert(copy, table, [line for line in lines if _is_sound(line, read)])


def _sound_head(line: Line | None) -> Line | None:
    """Return the row of a job if it can be read; its identity is made where it had none."""
    if line is None or not _is_sound(line, lambda job: decode(JobSetup, job["setup"])):
        return None
    return {"identity": f"{line['created_utc']} {line['job_id']}", **line}


def _head(job_id: int, entries: Sequence[Line]) -> Line:
    created_utc = entries[0]["written_utc"]
    return {
        "job_id": job_id,
        "created_utc": created_utc,
        "title": _TITLE,
        "setup": encode(JobSetup(title=_TITLE, plan=make_plan())),
        "closed": 0,
        "identity": f"{created_utc} {job_id} rescued {now_utc()}",
    }


def _sound_entries(lines: Iterable[Line], contradicting: list[int]) -> Iterator[Line]:
    """Leave out what cannot be read, and undoing what did not come across.

    Readings that contradict themselves are left out as well, and their numbers put into
    ``contradicting``.
    """
    history: dict[str, list[Taken | Skipped]] = {}
    before: Line | None = None
    for line in lines:
        if not _is_sound(line, _read_entry):
            continue
        near = before if before and before["number"] == line["number"] - 1 else None
        before = line
        if fault_of(_columns(line), None if near is None else _columns(near)):
            contradicting.append(line["number"])
            continue
        item = _read_entry(line)
        if isinstance(item, Taken | Skipped) and not (isinstance(item, Taken) and item.is_zero):
            history.setdefault(item.gauge_id, []).append(item)
        elif isinstance(item, Undone):
            if not _takes_back(item, history.get(item.gauge_id, [])):
                continue
            history[item.gauge_id].pop()
        elif isinstance(item, Superseded):
            history.pop(item.gauge_id, None)
        yield line


def _takes_back(act: Undone, history: Sequence[Taken | Skipped]) -> bool:
    if not history or history[-1].measurand != act.measurand:
        return False
    last = history[-1]
    return not isinstance(last, Taken) or last.reading.displayed == act.displayed


def _read_entry(line: Line) -> object:
    return item_of(_columns(line))


def _columns(line: Line) -> EntryColumns:
    return EntryColumns(*(line[name] for name in EntryColumns._fields))


def _read_fact(line: Line) -> object:
    return decode_fact(line["name"], line["detail"])


def _is_sound(line: Line, read: Callable[[Line], object]) -> bool:
    texts = [value for value in line.values() if isinstance(value, str)]
    if any(storable(text) != text for text in texts):
        return False
    try:
        read(line)
    except (UnreadableRow, KeyError, TypeError, ValueError):
        return False
    return True


def _insert(copy: sqlite3.Connection, table: str, lines: Iterable[Mapping[str, Any]]) -> None:
    ours = [row[1] for row in copy.execute(f"PRAGMA table_info({table})")]
    for line in lines:
        names = [name for name in ours if name in line]
        marks = ", ".join("?" for _ in names)
        # OR IGNORE: damage can show one row twice, or break a rule of the table.
        copy.execute(
            f"INSERT OR IGNORE INTO {table} ({', '.join(names)}) VALUES ({marks})",
            [line[name] for name in names],
        )


def _nothing(path: Path) -> JournalDamaged:
    return JournalDamaged(
        f"Nothing can be read of {path}; it was left as it is.",
        path=str(path),
        hint="Restore a backup with 'gaugelink jobs --restore BACKUP', or begin a new journal "
        "with --journal FILE.",
    )


Line: TypeAlias = Mapping[str, Any]  # a row by the names of its columns
_FARTHEST = 1 << 20  # numbers to leap over before the rest is given up


def readable(connection: sqlite3.Connection, table: str, key: Sequence[str]) -> list[Line]:
    """Return the rows of a table that can be read.

    ``key`` names the columns of its primary key.
    """
    found: dict[tuple[Any, ...], Line] = {}
    for direction in ("ASC", "DESC"):
        order = ", ".join(f"{column} {direction}" for column in key)
        for line in _Reader(connection, f"SELECT * FROM {table} ORDER BY {order}"):
            found[tuple(line[column] for column in key)] = line
    return [*found.values()]


def readable_of_job(connection: sqlite3.Connection, table: str, job_id: int) -> list[Line]:
    """Return the numbered rows of one job that can be read, in order."""
    found: dict[int, Line] = {}
    after, leap = 0, 1
    while leap <= _FARTHEST:
        query = f"SELECT * FROM {table} WHERE job_id = ? AND number > ? ORDER BY number"
        reader = _Reader(connection, query, (job_id, after))
        read = {line["number"]: line for line in reader}
        found |= read
        if not reader.is_damaged:
            break
        after, leap = (max(read), 1) if read else (after + leap, 2 * leap)
    query = f"SELECT * FROM {table} WHERE job_id = ? ORDER BY number DESC"
    for line in _Reader(connection, query, (job_id,)):
        found.setdefault(line["number"], line)
    return [found[number] for number in sorted(found)]


class _Reader:
    """Goes through the rows of a query up to the first that cannot be read."""

    def __init__(
        self, connection: sqlite3.Connection, query: str, parameters: Sequence[object] = ()
    ) -> None:
        self._connection = connection
        self._query = query
        self._parameters = parameters
        self.is_damaged = False

    def __iter__(self) -> Iterator[Line]:
        try:
            cursor = self._connection.execute(self._query, self._parameters)
            names = [column[0] for column in cursor.description]
            for row in cursor:
                yield dict(zip(names, row, strict=True))
        except sqlite3.DatabaseError:
            self.is_damaged = True
