"""``gaugelink measure``: gauges, session, journal and screen, joined for one sitting."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from gaugelink.cli.options import (
    BARREL_OPTIONS,
    Display,
    DisplayOn,
    DisplayOpen,
    DisplayStay,
    Formats,
    Journal,
    Json,
    Quiet,
    Typed,
    page_for,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gaugelink.assembly.job import Job
    from gaugelink.capture.plan import JobRecord
    from gaugelink.capture.runner import Finish
    from gaugelink.cli.display import BenchDisplay
    from gaugelink.devices.gauge import Gauge
    from gaugelink.jobbook.journal import Journal as OpenJournal
    from gaugelink.model import DepthReference


def measure(
    addresses: Annotated[
        list[str] | None,
        typer.Argument(
            help="One gauge, or a caliper and a micrometer; if none is named, those that are "
            "remembered and plugged in."
        ),
    ] = None,
    title: Annotated[
        str, typer.Option(help="What the job is, such as the number on its bag.")
    ] = "",
    depth_from: Annotated[
        Literal["rim", "seat"] | None,
        typer.Option(help="Where the depth ends: rim of the barrel, or lid seat."),
    ] = None,
    with_: Annotated[
        list[str] | None,
        typer.Option("--with", metavar="NAME", help="Also measure NAME: recess. Repeatable."),
    ] = None,
    without: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME", help="Leave NAME out: arbor, lid, found_height ... Repeatable."
        ),
    ] = None,
    resume: Annotated[
        int | None,
        typer.Option(metavar="JOB", help="Continue job JOB; 0 is the latest open one."),
    ] = None,
    redo: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME",
            help="With --resume, or of a closed job: measure NAME again. Earlier readings are "
            "kept but no longer count. Repeatable.",
        ),
    ] = None,
    close: Annotated[
        bool,
        typer.Option(
            "--close",
            help="With --resume: end the job as it is, without a last zero and without a gauge. "
            "Its sizes become less certain, for the zero may have moved.",
        ),
    ] = False,
    end: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Outer end of the spring, for the answer at the end."),
    ] = None,
    winding: Annotated[
        Literal["hand", "automatic"] | None,
        typer.Option(help="How the watch is wound, for the answer at the end."),
    ] = None,
    quiet: Quiet = False,
    try_sounds: Annotated[
        bool, typer.Option("--try-sounds", help="Play each sound with its name, and end.")
    ] = False,
    display: Display = False,
    display_open: DisplayOpen = False,
    display_on: DisplayOn = None,
    display_stay: DisplayStay = False,
    journal: Journal = None,
    json: Json = False,
    formats: Formats = None,
) -> None:
    """Walk through the measurements hands-free and keep every reading in a job.

    Close the jaws to begin. Close them twice to take the last reading back. Keys: u takes back,
    s skips, q stops; the job can be continued later with --resume.
    """
    from contextlib import ExitStack

    from gaugelink.assembly.job import read_job
    from gaugelink.capture.plan import assign, make_plan
    from gaugelink.capture.runner import Finish
    from gaugelink.cli.bell import try_sounds as play_sounds
    from gaugelink.cli.recall import Memory, tell_remembered
    from gaugelink.cli.sitting import begin, join, measure_anew, sit
    from gaugelink.cli.stop_key import StopKey
    from gaugelink.errors import STOPPED, InputError
    from gaugelink.jobbook.gauge_book import GaugeRecords
    from gaugelink.jobbook.journal import Journal as OpenJournal

    if try_sounds:
        play_sounds()
        return
    if resume is not None and (title or depth_from or with_ or without):
        raise InputError(
            "A continued job keeps its title and plan.",
            hint="Leave out --title, --depth-from, --with and --without; press s to skip what "
            "you do not measure.",
        )
    if redo and resume is None:
        raise InputError("--redo needs the job it is for.", hint="Add --resume JOB.")
    if close:
        _check_close(addresses, resume, redo)
    wound = {"winding": winding, "end": end}
    typed = _asked(wound, may_ask=resume is None)
    if close:
        with OpenJournal.open(journal) as book:
            job = _closed_as_it_is(book, resume or 0)
        _show(job, Finish.CLOSED, journal, typed, as_json=json, page=None)
        return
    memory = Memory(journal)
    named = [memory.completed(text) for text in addresses or ()] or memory.plugged_in()
    tell_remembered(memory, addresses or (), named)
    with ExitStack() as whole:
        stop = whole.enter_context(StopKey())
        asked = {"display": display, "opens": display_open, "stays": display_stay}
        page = page_for(whole, stop, on=display_on, **asked)
        with OpenJournal.open(journal) as book, ExitStack() as opened:
            earlier = None if resume is None else _job_to_continue(book, resume, redo or ())
            gauges = [opened.enter_context(_gauge(each, formats or (), earlier)) for each in named]
            if earlier is None:
                plan = make_plan(without=without or ())
                unserved = assign(plan, [gauge.info for gauge in gauges]).unserved
                is_measured = "depth" in {step.measurand for step in plan.steps} - {*unserved}
                reference = _depth_reference(depth_from, is_measured=is_measured)
                plan = make_plan(reference, with_=with_ or (), without=without or ())
                record = begin(book, gauges, plan, title)
            else:
                if redo:
                    measure_anew(book, earlier, gauges, redo)
                record = join(book, earlier.job_id, gauges)
            _keep_wound(book, record.job_id, typed)
            known = GaugeRecords.beside(book).of(gauge.gauge_id for gauge in record.gauges)
            finish = sit(
                book, record, gauges, stop, quiet=quiet, memory=memory, known=known, display=page
            )
            job = read_job(book, record.job_id)
        _show(job, finish, journal, typed, as_json=json, page=page)
        if finish is Finish.STOPPED and stop.is_asked():  # not with the key for it
            raise SystemExit(STOPPED)


def _check_close(
    addresses: Sequence[str] | None, resume: int | None, redo: Sequence[str] | None
) -> None:
    """Refuse ``--close`` beside what would measure, or without the job it is for."""
    from gaugelink.errors import InputError

    if resume is None:
        raise InputError("--close needs the job it is for.", hint="Add --resume JOB.")
    if addresses or redo:
        raise InputError(
            "--close ends a job without a gauge.",
            hint="Leave out the address and --redo; to measure on, leave out --close.",
        )


def _closed_as_it_is(book: OpenJournal, resume: int) -> Job:
    """Close a job without a last zero, durably; what is not measured is said.

    Raises:
        InputError: it is not there, is closed already, or has no reading.
    """
    from gaugelink.assembly.job import read_job
    from gaugelink.assembly.parts import unfinished
    from gaugelink.cli.output import say
    from gaugelink.errors import InputError
    from gaugelink.units import spoken

    record = _job_to_continue(book, resume, ())
    job = read_job(book, record.job_id)
    if not any(part.series for part in job.parts()):
        raise InputError(
            f"Job {record.job_id} has no readings to close with.",
            hint=f"Measure first: gaugelink measure ADDRESS --resume {record.job_id}",
        )
    if left := unfinished(record):
        say(f"Not finished, and left as it is: {', '.join(map(spoken, left))}.")
    book.mark_closed(record.job_id)
    return read_job(book, record.job_id)


def _keep_wound(book: OpenJournal, job_id: int, typed: Typed) -> None:
    """Keep winding and end with the job before it is measured: a sitting may stop early."""
    from gaugelink.jobbook.facts import FactBook, HowWound

    words = {name: str(word) for name, word in typed.items()}
    if words:
        FactBook.beside(book).add(job_id, HowWound(**words))


def _asked(words: dict[str, str | None], *, may_ask: bool) -> dict[str, str | bool]:
    """Return what is known of winding and end; asked once where somebody can answer, or skipped.

    Raises:
        InputError: an end of that name does not exist.
    """
    from gaugelink.cli.output import person_reads, person_types

    rows = {row.name: row for row in BARREL_OPTIONS if row.name in words}
    known = {name: word for name, word in words.items() if word is not None}
    if may_ask and not known and person_types() and person_reads():
        for name, question in _QUESTIONS.items():
            word = typer.prompt(question, default="", show_default=False, err=True).strip()
            known |= {name: word} if word else {}
    for name, word in known.items():
        rows[name].value(word)
    return {**known}


_QUESTIONS = {
    "winding": "Wound by hand or automatic? (Enter to skip)",
    "end": "Outer end: hole, hook, tongue, t-end, brace or slipping-bridle? (Enter to skip)",
}


def _show(
    job: Job,
    finish: Finish,
    journal: Path | None,
    typed: Typed,
    *,
    as_json: bool,
    page: BenchDisplay | None,
) -> None:
    """Show the readings, the answer or how to go on, and whether this barrel was here before."""
    from datetime import UTC, datetime

    from gaugelink.capture.runner import Finish
    from gaugelink.cli.jobs_search import earlier_text
    from gaugelink.cli.output import emit_json, say
    from gaugelink.report.json_records import job_json
    from gaugelink.report.table import wrapped
    from gaugelink.report.text_job import job_text

    record, parts, findings = job.record, job.parts(), job.findings(datetime.now(UTC))
    if as_json:
        emit_json(job_json(record, parts, findings))
    else:
        say(job_text(record, parts, findings))
    is_over = finish is Finish.CLOSED
    farewell = _farewell(record, is_over=is_over)
    say(farewell)
    if record.closed:
        _say_answer(job, journal, typed, page)
    elif page is not None:
        page.end_without(" ".join(farewell.split()))
    if is_over and (seen := earlier_text(record.job_id, journal)):
        say(wrapped(seen, lead=""))


def _say_answer(job: Job, journal: Path | None, typed: Typed, page: BenchDisplay | None) -> None:
    """Say what to order; a job that cannot be sized says why."""
    from gaugelink.cli.output import say
    from gaugelink.cli.size import answer_text, keep, sized
    from gaugelink.errors import InputError, SizingError
    from gaugelink.report.table import wrapped
    from gaugelink.statistics.outlier_method import OutlierMethod

    try:
        inputs, result = sized(typed, job, OutlierMethod.GRUBBS)
    except (InputError, SizingError) as exc:
        say(wrapped(f"No answer yet: {exc} {exc.hint}", lead=""))
        if page is not None:
            page.end_without(f"{exc} {exc.hint}")
        return
    if page is not None:
        page.end_with(inputs, result)
    say(answer_text(result, full=False))
    keep(journal, job.number, result, typed)


def _job_to_continue(journal: OpenJournal, resume: int, redo: Sequence[str]) -> JobRecord:
    """Return the job that ``--resume`` names, 0 being the latest open one.

    Raises:
        InputError: it is not there, or closed with nothing to ``redo``, or has no such plan.
    """
    from gaugelink.assembly.parts import superseding
    from gaugelink.errors import InputError

    hint = "'gaugelink jobs' lists the jobs; leave --resume out to begin a new one."
    job_id = resume or journal.latest_open()
    if job_id is None:
        raise InputError("No open job to continue.", hint=hint)
    record = journal.load(job_id)
    superseding(record, redo)  # before a gauge is opened: a wrong name is said at once
    if record.closed and not redo:
        raise InputError(
            f"Job {job_id} is closed.",
            hint=f"Add --redo NAME to measure one size again. {hint}",
        )
    return record


def _gauge(address: str, given: Sequence[Path], earlier: JobRecord | None) -> Gauge:
    """Build a gauge; one that took part before goes on in the unit it began in."""
    from gaugelink.assembly.parts import unit_begun_in
    from gaugelink.cli.output import format_folders
    from gaugelink.devices.registry import open_gauge

    folders = format_folders(given)
    gauge = open_gauge(address, folders=folders)
    unit = unit_begun_in(earlier, gauge.gauge_id) if earlier else None
    return open_gauge(address, folders=folders, job_unit=unit) if unit else gauge


def _depth_reference(depth_from: str | None, *, is_measured: bool) -> DepthReference:
    """Ask what the depth goes up to when it is measured, nobody said and somebody can answer."""
    from gaugelink.cli.output import person_reads, person_types, say
    from gaugelink.model import DepthReference

    if depth_from is not None:
        return DepthReference(depth_from)
    if not is_measured:
        return DepthReference.RIM
    if not (person_types() and person_reads()):
        say("Depth is taken from floor to rim; --depth-from seat if you measure to the lid seat.")
        return DepthReference.RIM
    seat = typer.confirm(
        "Do you measure the depth to the seat of the lid? (no: to the rim of the barrel)", err=True
    )
    return DepthReference.SEAT if seat else DepthReference.RIM


def _farewell(record: JobRecord, *, is_over: bool) -> str:
    from gaugelink.assembly.parts import unfinished

    number = record.job_id
    if record.closed:
        return f"Job {number} is complete. All figures: gaugelink size {number} --full"
    so_far = f"Job {number} is saved as far as it got."
    if is_over:
        so_far = f"Done so far, and job {number} is saved. The rest needs another gauge."
    close = ""
    if record.acts and not unfinished(record):
        close = f"  Or close it without a last zero: gaugelink measure --resume {number} --close\n"
    return (
        f"{so_far}\n"
        f"  Continue it: gaugelink measure ADDRESS --resume {number}\n"
        f"{close}"
        f"  Size it:     gaugelink size {number}"
    )
