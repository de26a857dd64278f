"""``gaugelink jobs``: the jobs in the journal, one job, or every event of one."""

from __future__ import annotations

from pathlib import Path

from gaugelink.assembly import measured_parts
from gaugelink.cli.output import emit, emit_json
from gaugelink.errors import InputError
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.records import JobLine
from gaugelink.report.job_contract import entry_json, job_json, job_line_json
from gaugelink.report.job_text import job_text
from gaugelink.report.table import table

_MOST_LISTED = 1000


def run(job: int | None, *, search: str, events: bool, journal: Path | None, as_json: bool) -> None:
    """List, or show one job."""
    if events and job is None:
        raise InputError("--events needs a job.", hint="Type it like: gaugelink jobs 3 --events")
    with Journal.open(journal) as opened:
        if job is None:
            _list(opened.jobs(_MOST_LISTED, search), as_json=as_json)
        elif events:
            for entry in opened.events(job):
                emit_json(entry_json(entry), indent=None)
        else:
            record = opened.load(job)
            parts = measured_parts(record)
            if as_json:
                emit_json(job_json(record, parts))
            else:
                emit(job_text(record, parts))


def _list(lines: tuple[JobLine, ...], *, as_json: bool) -> None:
    if as_json:
        emit_json({"schema": 1, "jobs": [job_line_json(line) for line in lines]})
    elif not lines:
        emit("No jobs yet. Begin one with: gaugelink measure ADDRESS")
    else:
        header = ("title", "job", "begun (UTC)", "readings", "state")
        emit(table(header, [_cells(line) for line in lines]))


def _cells(line: JobLine) -> tuple[str, ...]:
    begun = line.created_utc[:16].replace("T", " ")
    state = "complete" if line.closed else "open"
    return (line.title or "-", str(line.job_id), begun, str(line.n_standing), state)
