"""Writing jobs to a CSV file."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from gaugelink.assembly.parts import measured_parts
from gaugelink.assembly.quantities import measured_estimates
from gaugelink.cli.jobs_sizes import is_of_a_barrel
from gaugelink.jobbook.book import translated
from gaugelink.jobbook.copies import replacing
from gaugelink.jobbook.fact_book import FactBook
from gaugelink.jobbook.gauge_records import GaugeRecords
from gaugelink.jobbook.journal import Journal
from gaugelink.report.job_text import HEADER, csv_rows


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenTable:
    """How many jobs, and rows under the header, were written."""

    n_jobs: int
    n_rows: int


def write_csv(target: Path, jobs: Sequence[int], path: Path) -> WrittenTable:
    """Write jobs to a table, which is there whole when this returns, or as it was before.

    Args:
        target: the file; one that is there is replaced.
        jobs: their numbers; all when empty.
        path: the journal.

    Raises:
        JournalError: there is no such job, or one of the files fails.
    """
    n_rows = 0
    with Journal.open(path, to_read=True) as journal:
        wanted = [*dict.fromkeys(jobs)] or journal.numbers()
    # With a mark at its beginning, by which a spreadsheet knows UTF-8.
    with (
        translated(target, kept="nothing was exported, and the journal is as it was"),
        replacing(target) as part,
        part.open("w", encoding="utf-8-sig", errors="backslashreplace", newline="") as file,
    ):
        writer = csv.writer(file)
        writer.writerow(HEADER)
        for row in _rows(wanted, path):
            writer.writerow(row)
            n_rows += 1
    return WrittenTable(n_jobs=len(wanted), n_rows=n_rows)


def _rows(wanted: Sequence[int], path: Path) -> Iterator[tuple[str, ...]]:
    with ExitStack() as opened:
        journal = opened.enter_context(Journal.open(path, to_read=True))
        facts = opened.enter_context(FactBook(path, to_read=True))
        gauges = opened.enter_context(GaugeRecords(path, to_read=True)).by_identity()
        for job in wanted:
            record = journal.load(job)
            sizes = measured_estimates(record, gauges) if is_of_a_barrel(record) else ()
            parts = measured_parts(record, gauge_records=gauges)
            yield from csv_rows(record, parts, sizes, facts.facts(job))
