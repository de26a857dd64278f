"""The job book with 10,000 jobs in it: search, nearest barrel, export, import, backup.

Run it by hand: ``python tests/benchmarks/bench_jobbook.py [JOBS]``. Each line stands beside
what the same costs without us, in the same process: a plain query that reads the rows, the
json module over the same data, or a plain copy of the file. Only ratios mean anything. The
jobs are invented copies of the demo's: six measurands, 26 readings taken, and as many events
again.
"""

from __future__ import annotations

import json
import random
import resource
import shutil
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from gaugelink.cli.jobs_search import bring_up_to_date
from gaugelink.jobbook.codec import encode, wire_name
from gaugelink.jobbook.copies import back_up
from gaugelink.jobbook.export import Exporter, Importer, read_job_file
from gaugelink.jobbook.export_format import EntryRow, FactRow, JobRows, insert_job, read_rows
from gaugelink.jobbook.facts import (
    After,
    Chosen,
    FactBook,
    ForeseenSpan,
    JobReference,
    Movement,
    Remark,
    SizeVersion,
)
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.lookup import Wanted
from gaugelink.jobbook.predictions import compare, fittings, judge
from gaugelink.jobbook.sizes import SizeBook

FIXTURE = Path(__file__).parents[2] / "fixtures" / "journals" / "schema-1.sql"
RESULT = {"height": {"value": 1.45, "u": 0.02}, "rules": [{"rule": "half-area"}] * 60}


def seconds(work: Callable[[], object]) -> float:
    begun_s = time.perf_counter()
    work()
    return time.perf_counter() - begun_s


def pattern(path: Path) -> JobRows:
    """Return the demo's job without the idle readings of its stream."""
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(FIXTURE.read_text(encoding="utf-8"))
    Journal.open(path).close()
    with closing(sqlite3.connect(path)) as connection:
        job = read_rows(connection, 1)
    assert job is not None
    acts = [n for n, entry in enumerate(job.entries) if entry.origin == "job"]
    kept = [job.entries[n] for act in acts for n in (act - 1, act)]
    rows = tuple(entry._replace(number=n) for n, entry in enumerate(kept, start=1))
    return job._replace(entries=rows)


def facts(job_id: int, rng: random.Random) -> tuple[FactRow, ...]:
    told = (
        Movement(text=f"invented calibre {job_id % 97}"),
        JobReference(text=f"bag {job_id}"),
        Remark(text="hook worn, arbor polished" if job_id % 5 else "knocks at full wind"),
        SizeVersion(result=RESULT, software="0.1"),
        Chosen(item=f"A{job_id % 150}", hours=ForeseenSpan(low=36.0, high=42.0), height_mm=1.45),
        After(hours_run=round(rng.gauss(37, 2), 1), crown_turns=28.0),
    )
    return tuple(
        FactRow(
            number=n,
            written_utc="2026-01-01T00:00:00.000+00:00",
            name=wire_name(type(fact)),
            detail=encode(fact),
        )
        for n, fact in enumerate(told, start=1)
    )


def moved(entry: EntryRow, by_mm: float) -> EntryRow:
    """Shift a value and the text that goes with it, so that the jobs are not all one barrel."""
    detail = json.loads(entry.detail)
    reading = detail.get("body") or detail.get("reading") or detail
    shown = reading.get("displayed")
    if shown is None or abs(float(shown)) < 0.1:  # a zero is left one
        return entry
    reading["displayed"] = f"{float(shown) + by_mm:.{len(shown.partition('.')[2])}f}"
    if "value_mm" in reading:
        reading["value_mm"] = float(reading["displayed"])
    return entry._replace(detail=json.dumps(detail, separators=(",", ":")))


def fill(path: Path, n_jobs: int) -> None:
    rng = random.Random(1)
    job = pattern(path.with_name("pattern.sqlite"))
    Journal.open(path).close()
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("BEGIN")
        for number in range(1, n_jobs + 1):
            by_mm = rng.uniform(-0.04, 0.04)
            one = job._replace(
                identity=f"invented {number}",
                title=f"bag {number}, invented",
                entries=tuple(moved(entry, by_mm) for entry in job.entries),
                facts=facts(number, rng),
            )
            insert_job(connection, one, number)
        connection.execute("COMMIT")


def line(what: str, took_s: float, plain_s: float | None = None, note: str = "") -> None:
    ratio = f"{took_s / plain_s:9.1f}" if plain_s else " " * 9
    sys.stdout.write(f"{what:<52}{1e3 * took_s:11.1f} ms{ratio}  {note}\n")
    sys.stdout.flush()


def read_all(path: Path, *tables: str) -> None:
    with closing(sqlite3.connect(path)) as connection:
        for table in tables:
            connection.execute(f"SELECT * FROM {table}").fetchall()


def searches(path: Path, n_jobs: int) -> None:
    jobs_s = seconds(lambda: read_all(path, "job"))
    with Journal.open(path) as journal:
        for what, wanted in {
            "the newest 1000 jobs": Wanted(),
            "text that 1 job has": Wanted(text=f"bag {n_jobs // 2},"),
            "text that no job has": Wanted(text="zzz"),
            "a month": Wanted(first="2024-01", last="2024-01"),
        }.items():
            line(f"list: {what}", seconds(lambda w=wanted: journal.jobs(1000, w)), jobs_s)
    line("sizes of all jobs made, once", seconds(lambda: bring_up_to_date(path)))
    line("sizes looked through when none is due", seconds(lambda: bring_up_to_date(path)), jobs_s)
    sizes_s = seconds(lambda: read_all(path, "dimension"))
    with SizeBook(path) as book:
        line("jobs with one bore", seconds(lambda: book.near(["bore"], 11.52, 0.005)), sizes_s)
        wanted = [*book.of(n_jobs // 2).values()]
        line("nearest barrels", seconds(lambda: book.like(wanted, 5)), sizes_s)
    with FactBook(path) as told:
        facts_s = seconds(lambda: read_all(path, "fact"))

        def predictions() -> None:
            found = fittings(told.of_kind(Chosen, After))
            judge([each for fitting in found for each in compare(fitting)])

        line("predictions over all jobs", seconds(predictions), facts_s)


def files(path: Path, folder: Path) -> None:
    rows_s = seconds(lambda: read_all(path, "job", "gauge", "entry", "fact"))
    file, other, copy = folder / "jobs.json", folder / "other.sqlite", folder / "backup.sqlite"
    with Exporter(path) as exporter:
        took_s = seconds(lambda: exporter.write(file))
    mib = 2**20
    sizes = f"{file.stat().st_size / mib:.0f} MiB of JSON, journal {path.stat().st_size / mib:.0f}"
    data = json.loads(file.read_bytes())
    dumped_s = seconds(lambda: json.dumps(data, separators=(",", ":")))
    parsed_s = seconds(lambda: json.loads(file.read_bytes()))
    line("export, beside json.dumps of the same data", took_s, dumped_s, sizes)
    read_s = seconds(lambda: read_job_file(file))
    line("import: file read and checked, beside json.loads", read_s, parsed_s)
    jobs = read_job_file(file)
    with Importer(other) as importer:
        line("import: rows written", seconds(lambda: importer.take(jobs)), rows_s)
        line("import: the same again", seconds(lambda: importer.take(jobs)), rows_s)
    copied_s = seconds(lambda: shutil.copyfile(path, folder / "plain copy"))
    line("backup, checked and on the disk", seconds(lambda: back_up(path, copy)), copied_s)


def main(n_jobs: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "journal.sqlite"
        fill(path, n_jobs)
        sys.stdout.write(f"{n_jobs} jobs{'':46}{'took':>8}{'/ plain':>15}\n")
        searches(path, n_jobs)
        files(path, Path(name))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write(f"most memory of this process: {peak:.0f} MiB\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
