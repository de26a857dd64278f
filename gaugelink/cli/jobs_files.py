"""Jobs in and out of files: JSON and CSV, backup, restore, and rescue of a damaged journal."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from pathlib import Path

from gaugelink import __version__
from gaugelink.assembly.job import read_job
from gaugelink.cli.jobs_search import is_of_a_barrel
from gaugelink.cli.output import bar, emit_json, refuse_foreign, say
from gaugelink.errors import InputError, JournalError
from gaugelink.jobbook.book import Told, default_path, translated
from gaugelink.jobbook.copies import Copied, back_up, replacing, restore
from gaugelink.jobbook.export import (
    Exporter,
    ImportedJob,
    Importer,
    ImportOutcome,
    JobFile,
    read_job_file,
)
from gaugelink.jobbook.export_format import KIND
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.rescue import Rescued, RescuedJob, rescue
from gaugelink.report.table import wrapped
from gaugelink.report.text_job import HEADER, csv_rows
from gaugelink.stock.xlsx_file import csv_cell
from gaugelink.uncertainty.first_order import propagate

_MOST_TOLD = 20
_MARKS = {".csv": ",".join(HEADER[:4]).encode(), ".json": f'{{"kind":"{KIND}"'.encode()}


@dataclass(frozen=True, slots=True, kw_only=True)
class FileOptions:
    """The file that was named, and what to do with it; one of them at most."""

    export: Path | None = None
    import_: Path | None = None
    backup: Path | None = None
    restore: Path | None = None
    rescue: Path | None = None

    @property
    def is_empty(self) -> bool:
        """Whether no file was named."""
        return self == FileOptions()


def run_files(
    options: FileOptions, jobs: Sequence[int], journal: Path | None, *, as_json: bool
) -> None:
    """Do what was asked for with a file, and say what came of it."""
    _refuse_mixed(options, jobs)
    path = journal or default_path()
    if options.export is not None:
        _export(options.export, jobs, path, as_json=as_json)
    elif options.import_ is not None:
        _import(options.import_, path, as_json=as_json)
    elif options.backup is not None:
        with bar("Checking entries of the copy") as told:
            copied = back_up(path, options.backup, told)
        _tell(f"Backed up {_holds(copied)} to {copied.path}; the copy was checked.")
        _answer({"backup": str(copied.path), **_counts(copied)}, as_json=as_json)
    elif options.restore is not None:
        _restore(options.restore, path, as_json=as_json)
    elif options.rescue is not None:
        _rescue(path, options.rescue, as_json=as_json)


def _export(target: Path, jobs: Sequence[int], path: Path, *, as_json: bool) -> None:
    suffix = target.suffix.lower()
    if suffix in _MARKS:
        refuse_foreign(
            target, _MARKS[suffix], "an export of gaugelink", instead="Name another file."
        )
    if suffix == ".csv":
        table = write_csv(target, jobs, path)
        rows = _number(table.n_rows, "row")
        _tell(f"Wrote {_number(table.n_jobs, 'job')} to {target}, a row a measurand: {rows}.")
        data = {"export": str(target), "n_jobs": table.n_jobs, "n_rows": table.n_rows}
        _answer(data, as_json=as_json)
    elif suffix == ".json":
        with Exporter(path) as exporter, bar("Exporting jobs") as told:
            done = exporter.write(target, jobs, __version__, told)
        records = _number(done.n_records, "gauge record")
        _tell(f"Wrote {_number(done.n_jobs, 'job')} and {records} to {target}.")
        data = {"export": str(target), "n_jobs": done.n_jobs, "n_records": done.n_records}
        _answer(data, as_json=as_json)
    else:
        raise InputError(
            f"{target} ends neither in .json nor in .csv.",
            hint="FILE.json holds all of the jobs and can be imported; FILE.csv is for a table.",
        )


def _import(source: Path, path: Path, *, as_json: bool) -> None:
    with bar("Reading the file") as told:
        file = read_job_file(source, told)
    with Importer(path) as importer:
        imported = _taken(importer, file, source)
    for line in _import_lines(imported):
        _tell(line)
    jobs = [
        {"job_there": each.number_there, "job": each.job_id, "outcome": str(each.outcome)}
        for each in imported
    ]
    _answer({"import": str(source), "jobs": jobs}, as_json=as_json)


def _taken(importer: Importer, file: JobFile, source: Path) -> Sequence[ImportedJob]:
    """Take the jobs of a file; where that ends early, say how many are here."""
    try:
        with bar("Importing jobs") as told:
            return importer.take(file, told)
    except (KeyboardInterrupt, JournalError):
        _tell(
            f"Stopped: {importer.n_taken} of {_number(len(file.jobs), 'job')} are in the journal, "
            f"each of them whole. Import {source} again to add the rest."
        )
        raise


def _import_lines(imported: Sequence[ImportedJob]) -> Iterator[str]:
    for outcome in ImportOutcome:
        some = [each for each in imported if each.outcome is outcome]
        if not some:
            continue
        told = [_mapping(each) for each in some[:_MOST_TOLD]]
        more = f" and {len(some) - _MOST_TOLD} more" if len(some) > _MOST_TOLD else ""
        yield f"{_number(len(some), 'job')} {outcome}: {', '.join(told)}{more}."
    if not imported:
        yield "The file has no jobs in it."


def _mapping(job: ImportedJob) -> str:
    same = job.number_there == job.job_id
    return f"{job.job_id}" if same else f"{job.number_there} is now {job.job_id}"


def _restore(backup: Path, path: Path, *, as_json: bool) -> None:
    done = restore(backup, path)
    _tell(f"Restored {_holds(done.copied)} from {backup} to {path}.")
    if done.aside is not None:
        _tell(f"The old journal is kept as {done.aside}.")
    aside = None if done.aside is None else str(done.aside)
    _answer({"restore": str(path), "aside": aside, **_counts(done.copied)}, as_json=as_json)


def _rescue(path: Path, target: Path, *, as_json: bool) -> None:
    with bar("Rescuing jobs") as told:
        done = rescue(path, target, told)
    for line in _rescue_lines(done):
        _tell(line)
    jobs = [
        {
            "job": job.job_id,
            "n_entries": job.n_entries,
            "lost": list(job.lost),
            "contradicting": list(job.contradicting),
        }
        for job in done.jobs
    ]
    _answer({"rescue": str(target), "jobs": jobs}, as_json=as_json)


def _rescue_lines(done: Rescued) -> Iterator[str]:
    n_entries = sum(job.n_entries for job in done.jobs)
    yield (
        f"Rescued {_number(len(done.jobs), 'job')} with {n_entries} entries to {done.path}; "
        "the damaged journal was left as it is."
    )
    for job in done.jobs:
        if job.lost:
            yield f"Job {job.job_id} lacks {_gaps(job)}: look at it before you trust it."
        if job.contradicting:
            told = ", ".join(map(str, job.contradicting))
            yield (
                f"Of job {job.job_id} the readings in entries {told} were left out: their number, "
                "text and unit do not agree."
            )
    yield "What was written last may be missing without a gap to show it."
    yield f"To go on with it: gaugelink jobs --restore {done.path}"


def _gaps(job: RescuedJob) -> str:
    return f"{len(job.lost)} of its entries, between {job.lost[0]} and {job.lost[-1]}"


def _holds(copied: Copied) -> str:
    return f"{_number(copied.n_jobs, 'job')} with {copied.n_entries} entries"


def _counts(copied: Copied) -> dict[str, int]:
    return {"n_jobs": copied.n_jobs, "n_entries": copied.n_entries}


def _number(n: int, noun: str) -> str:
    return f"{n} {noun}" if n == 1 else f"{n} {noun}s"


def _tell(text: str) -> None:
    say(wrapped(text, lead="", split_words=False))


def _answer(data: dict[str, object], *, as_json: bool) -> None:
    if as_json:
        emit_json({"schema": 1, **data})


def _refuse_mixed(options: FileOptions, jobs: Sequence[int]) -> None:
    named = [each.name for each in fields(options) if getattr(options, each.name) is not None]
    names = [f"--{name.rstrip('_')}" for name in named]
    if len(names) > 1:
        raise InputError(f"{names[0]} and {names[1]} do not go together.", hint="Give one of them.")
    if jobs and options.export is None:
        raise InputError(
            f"{names[0]} takes all jobs, not job {jobs[0]}.",
            hint="Leave the number out; only --export takes numbers.",
        )


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
        translated(
            target, kept="nothing was exported, and the journal is as it was", option="--export"
        ),
        replacing(target) as part,
        part.open("w", encoding="utf-8-sig", errors="backslashreplace", newline="") as file,
        bar("Exporting jobs") as told,
    ):
        writer = csv.writer(file)
        writer.writerow(HEADER)
        for row in _rows(wanted, path, told):
            writer.writerow([*map(csv_cell, row)])
            n_rows += 1
    return WrittenTable(n_jobs=len(wanted), n_rows=n_rows)


def _rows(wanted: Sequence[int], path: Path, told: Told) -> Iterator[tuple[str, ...]]:
    with Journal.open(path, to_read=True) as journal:
        for n, number in enumerate(wanted):
            told(n, len(wanted))
            job = read_job(journal, number)
            sizes = job.quantities().values() if is_of_a_barrel(job.record) else ()
            yield from csv_rows(job.record, job.parts(), propagate(dict, [*sizes]), job.facts)
