"""``gaugelink jobs``: the jobs in the journal, what is known of one, and every event of one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from gaugelink.assembly.job import load_job
from gaugelink.cli.jobs_facts import FactOptions, keep, lost_photographs, show_predictions
from gaugelink.cli.jobs_files import FileOptions, run_files
from gaugelink.cli.jobs_search import SearchOptions, list_jobs, list_like, reindex
from gaugelink.cli.output import emit, emit_json, say
from gaugelink.errors import InputError
from gaugelink.jobbook.journal import Journal
from gaugelink.report.json_records import entry_json, facts_json, job_json
from gaugelink.report.text_job import facts_text, job_text


@dataclass(frozen=True, slots=True, kw_only=True)
class JobsOptions:
    """What was typed after ``jobs``."""

    jobs: tuple[int, ...] = ()
    search: SearchOptions = field(default_factory=SearchOptions)
    facts: FactOptions = field(default_factory=FactOptions)
    files: FileOptions = field(default_factory=FileOptions)
    like: str | None = None
    events: bool = False
    predictions: bool = False
    reindex: bool = False
    journal: Path | None = None


def run(options: JobsOptions, *, as_json: bool) -> None:
    """Do the one thing that was asked for: with files, over all jobs, with one, or the list."""
    _refuse_mixed(options)
    journal = options.journal
    if not options.files.is_empty:
        run_files(options.files, options.jobs, journal, as_json=as_json)
    elif options.reindex:
        say(f"The sizes of {reindex(journal)} jobs were made afresh.")
    elif options.predictions:
        show_predictions(journal, as_json=as_json)
    elif options.like is not None:
        list_like(options.like, journal, as_json=as_json)
    elif options.jobs:
        _one(options, options.jobs[0], as_json=as_json)
    else:
        list_jobs(options.search, journal, as_json=as_json)


def _one(options: JobsOptions, job: int, *, as_json: bool) -> None:
    if not options.facts.is_empty:
        keep(job, options.facts, options.journal)
    if options.events:
        with Journal.open(options.journal, to_read=True) as opened:
            for entry in opened.events(job):
                emit_json(entry_json(entry), indent=None)
    else:
        show(job, options.journal, as_json=as_json)


def show(job: int, journal: Path | None, *, as_json: bool) -> None:
    """Show a job with all that is known of it."""
    shown = load_job(journal, job)
    record, parts, findings = shown.record, shown.parts(), shown.findings(datetime.now(UTC))
    if as_json:
        emit_json({**job_json(record, parts, findings), **facts_json(shown.facts)})
    else:
        facts = facts_text(shown.facts, lost_photographs(shown.facts))
        emit(job_text(record, parts, findings) + facts)


def _refuse_mixed(options: JobsOptions) -> None:
    """Refuse two wishes at once, and a wish that lacks its job."""
    wishes = {
        "a search": options.search != SearchOptions(),
        "--like": options.like is not None,
        "--predictions": options.predictions,
        "--reindex": options.reindex,
        "a file": not options.files.is_empty,
        "something to keep with a job": not options.facts.is_empty,
        "--events": options.events,
    }
    said = [wish for wish, is_said in wishes.items() if is_said]
    if len(said) > 1:
        raise InputError(
            f"{said[0].capitalize()} and {said[1]} do not go together.",
            hint="Give one of them; 'gaugelink jobs --help' lists what there is.",
        )
    _refuse_numbers(said, options.jobs)


def _refuse_numbers(said: Sequence[str], jobs: Sequence[int]) -> None:
    of_one = {"something to keep with a job", "--events"}
    if not jobs and of_one & set(said):
        raise InputError(
            f"{said[0].capitalize()} needs a job.",
            hint="Begin with its number, such as: gaugelink jobs 3 --events",
        )
    if jobs and said and not (of_one | {"a file"}) & set(said):
        raise InputError(
            f"{said[0].capitalize()} looks at all jobs, not at job {jobs[0]}.",
            hint="Leave the number out.",
        )
    if len(jobs) > 1 and "a file" not in said:
        raise InputError("One job is shown at a time.", hint=f"Type: gaugelink jobs {jobs[0]}")
