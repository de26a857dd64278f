"""Invented journals with everything in them, and all that a journal holds, to compare."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

from gauge_samples import check, record
from jobbook_samples import CALIPER, SETUP, garbage, heard, keep, taken

from gaugelink.jobbook.facts import (
    After,
    Chosen,
    FactBook,
    ForeseenSpan,
    Movement,
    Remark,
    SizeVersion,
)
from gaugelink.jobbook.gauge_book import GaugeRecords
from gaugelink.jobbook.journal import Journal

FIXTURES = Path(__file__).parents[2] / "fixtures" / "journals"
TABLES = ("job", "gauge", "entry", "fact", "known_gauge", "gauge_record", "gauge_check")
KEPT = ("job", "gauge", "entry", "fact")


def fill(path: Path, n_jobs: int = 3) -> Path:
    """Write jobs with readings, noise, facts and a gauge's record, and return the path."""
    with Journal.open(path) as journal:
        for number in range(1, n_jobs + 1):
            job_id = journal.create_job(replace(SETUP, title=f"Würfel {number}"))
            journal.add_gauge(job_id, CALIPER)
            keep(journal, job_id, heard(number), taken(number), garbage(number))
            if number % 2:
                journal.mark_closed(job_id)
    with FactBook(path) as book:
        for job_id in range(1, n_jobs + 1):
            book.add(
                job_id,
                Movement(text=f"invented movement {job_id}, not d’époque"),
                SizeVersion(result={"height": {"value": 1.2, "dof": None}}, software="0.1"),
                Chosen(item="A17", hours=ForeseenSpan(low=38.0, high=42.0)),
                After(hours_run=40.25, noise="none"),
            )
    gauge = replace(record(mpe_mm=0.02), gauge_id=CALIPER.gauge_id)
    with GaugeRecords(path) as records:
        records.add_check(gauge, check(day=1))
        records.add_check(gauge, check(day=2))
    return path


def more(path: Path, job_id: int, number: int) -> None:
    """Go on with a job."""
    with Journal.open(path) as journal:
        keep(journal, job_id, heard(number), taken(number))
    with FactBook(path) as book:
        book.add(job_id, Remark(text=f"note {number}"))


def content(path: Path, *tables: str) -> dict[str, list[tuple[object, ...]]]:
    """Return every row of some tables, all that matter if none is named."""
    with closing(sqlite3.connect(path)) as connection:
        return {
            table: sorted(connection.execute(f"SELECT * FROM {table}").fetchall(), key=repr)
            for table in tables or TABLES
        }


def is_sound(path: Path) -> bool:
    with closing(sqlite3.connect(path)) as connection:
        broken = connection.execute("PRAGMA foreign_key_check").fetchall()
        return connection.execute("PRAGMA integrity_check").fetchone() == ("ok",) and not broken


def old_journal(path: Path, schema: int, without: tuple[str, ...] = ()) -> Path:
    """Make a journal of an earlier schema from its text, and return the path."""
    text = (FIXTURES / f"schema-{schema}.sql").read_text(encoding="utf-8")
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(text)
        for table in without:
            connection.execute(f"DROP TABLE {table}")
        connection.execute("PRAGMA journal_mode = WAL")  # as the program of that time left it
    return path
