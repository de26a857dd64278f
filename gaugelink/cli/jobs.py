"""``gaugelink jobs``: the jobs in the journal, what is known of one, and every event of one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated

import typer

from gaugelink.cli.options import Journal, Json


def jobs(
    job: Annotated[
        list[int] | None,
        typer.Argument(help="Show this job; several for --export; list all if not given."),
    ] = None,
    search: Annotated[
        str, typer.Option(metavar="TEXT", help="List jobs with TEXT in title, date or notes.")
    ] = "",
    bore: Annotated[str | None, typer.Option(help="List jobs with this bore.")] = None,
    height: Annotated[
        str | None, typer.Option(help="List jobs with this height, available or of a spring.")
    ] = None,
    size: Annotated[
        str | None, typer.Option(metavar="HxTxL", help="List jobs with this spring.")
    ] = None,
    first: Annotated[
        str, typer.Option("--from", metavar="DATE", help="List jobs begun then or later, UTC.")
    ] = "",
    last: Annotated[
        str, typer.Option("--to", metavar="DATE", help="List jobs begun then or before, UTC.")
    ] = "",
    like: Annotated[
        str | None,
        typer.Option(
            metavar="JOB", help='Barrels most like that of JOB, or like "bore=11.02 arbor=3.67".'
        ),
    ] = None,
    movement: Annotated[str | None, typer.Option(help="Record the movement.")] = None,
    reference: Annotated[
        str | None, typer.Option(help="Record whose it is, or its number at the bench.")
    ] = None,
    workshop: Annotated[str | None, typer.Option(help="Record the workshop.")] = None,
    customer: Annotated[str | None, typer.Option(help="Record the customer.")] = None,
    by: Annotated[str | None, typer.Option(metavar="NAME", help="Record who measured.")] = None,
    temperature: Annotated[
        str | None, typer.Option(metavar="CELSIUS", help="Record the temperature while measuring.")
    ] = None,
    train: Annotated[
        str | None,
        typer.Option(help='Record the train: "90/12 hours_per_turn=7.5".'),
    ] = None,
    photo: Annotated[
        list[str] | None,
        typer.Option(metavar="FILE", help="Record the path of a photograph. Repeatable."),
    ] = None,
    note: Annotated[list[str] | None, typer.Option(help="Record a note. Repeatable.")] = None,
    chosen: Annotated[
        str | None,
        typer.Option(
            metavar="ITEM",
            help="Record the spring fitted; what to expect of it comes from the latest ranking, or "
            "is "
            'typed: "A17 size=1.20x0.12x345 cut_from=380 end=hole turns=6.1 hours=38..44".',
        ),
    ] = None,
    after: Annotated[
        str | None,
        typer.Option(
            metavar="FIGURES",
            help='Record what you saw: "crown_turns=28 hours=41 amplitude=265@vertical,wound '
            'amplitude=240@vertical,24h noise=none".',
        ),
    ] = None,
    predictions: Annotated[
        bool, typer.Option("--predictions", help="Compare what was seen with what was expected.")
    ] = False,
    events: Annotated[
        bool, typer.Option("--events", help="Every event of the job, byte for byte, in JSON lines.")
    ] = False,
    export: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write to FILE.json, or FILE.csv.")
    ] = None,
    import_: Annotated[
        Path | None, typer.Option("--import", metavar="FILE", help="Add jobs of FILE.json.")
    ] = None,
    backup: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Copy the journal to FILE, checked.")
    ] = None,
    restore: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="Replace the journal with a backup; the old one is kept."
        ),
    ] = None,
    rescue: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Copy what can be read of a damaged journal to FILE."),
    ] = None,
    reindex: Annotated[
        bool, typer.Option("--reindex", help="Rebuild the sizes that jobs are found by.")
    ] = False,
    journal: Journal = None,
    json: Json = False,
) -> None:
    """List and find jobs, show or complete one, and move jobs in and out of files.

    A job is shown with its readings, what was rejected and why, and what was written down.
    An amplitude may say how the movement lay and how far it was wound, such as @dial-up,24h.
    """
    from gaugelink.cli import jobs_search
    from gaugelink.cli.jobs_facts import FactOptions, keep, show_predictions
    from gaugelink.cli.jobs_files import FileOptions, run_files
    from gaugelink.cli.jobs_search import SearchOptions, list_jobs, list_like
    from gaugelink.cli.output import say

    numbers = tuple(job or ())
    wanted = SearchOptions(text=search, bore=bore, height=height, size=size, first=first, last=last)
    facts = FactOptions(
        movement=movement,
        reference=reference,
        workshop=workshop,
        customer=customer,
        by=by,
        temperature=temperature,
        train=train,
        photographs=tuple(photo or ()),
        notes=tuple(note or ()),
        chosen=chosen,
        after=after,
    )
    files = FileOptions(
        export=export, import_=import_, backup=backup, restore=restore, rescue=rescue
    )
    wishes = {
        "a search": wanted != SearchOptions(),
        "--like": like is not None,
        "--predictions": predictions,
        "--reindex": reindex,
        "a file": not files.is_empty,
        "something to record with a job": not facts.is_empty,
        "--events": events,
    }
    _refuse_mixed(wishes, numbers)
    if not files.is_empty:
        run_files(files, numbers, journal, as_json=json)
    elif reindex:
        say(f"Rebuilt the sizes of {jobs_search.reindex(journal)} jobs.")
    elif predictions:
        show_predictions(journal, as_json=json)
    elif like is not None:
        list_like(like, journal, as_json=json)
    elif not numbers:
        list_jobs(wanted, journal, as_json=json)
    else:
        if not facts.is_empty:
            keep(numbers[0], facts, journal)
        if events:
            _show_events(numbers[0], journal)
        else:
            _show(numbers[0], journal, as_json=json)


def _show_events(number: int, journal: Path | None) -> None:
    from gaugelink.cli.output import emit_json
    from gaugelink.jobbook.journal import Journal as OpenJournal
    from gaugelink.report.json_records import entry_json

    with OpenJournal.open(journal, to_read=True) as opened:
        for entry in opened.events(number):
            emit_json(entry_json(entry), indent=None)


def _show(number: int, journal: Path | None, *, as_json: bool) -> None:
    """Show a job with all that is known of it."""
    from datetime import UTC, datetime

    from gaugelink.assembly.job import load_job
    from gaugelink.cli.jobs_facts import lost_photographs
    from gaugelink.cli.output import emit, emit_json
    from gaugelink.report.json_records import facts_json, job_json
    from gaugelink.report.text_job import facts_text, job_text

    job = load_job(journal, number)
    record, parts, findings = job.record, job.parts(), job.findings(datetime.now(UTC))
    if as_json:
        emit_json({**job_json(record, parts, findings), **facts_json(job.facts)})
    else:
        facts = facts_text(job.facts, lost_photographs(job.facts))
        emit(job_text(record, parts, findings) + facts)


def _refuse_mixed(wishes: Mapping[str, bool], numbers: Sequence[int]) -> None:
    """Refuse two wishes at once, and a wish that lacks its job."""
    from gaugelink.errors import InputError

    said = [wish for wish, is_said in wishes.items() if is_said]
    if len(said) > 1:
        raise InputError(
            f"{said[0].capitalize()} and {said[1]} do not go together.",
            hint="Give one of them; 'gaugelink jobs --help' lists what there is.",
        )
    _refuse_numbers(said, numbers)


def _refuse_numbers(said: Sequence[str], jobs: Sequence[int]) -> None:
    from gaugelink.errors import InputError

    of_one = {"something to record with a job", "--events"}
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
