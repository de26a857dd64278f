"""``gaugelink measure``: gauges, session, journal and screen, joined for one sitting."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from gaugelink.assembly import measured_parts, remaining_plan, review_series
from gaugelink.capture.job import JobRecord, JobSetup
from gaugelink.capture.plan import make_plan
from gaugelink.capture.runner import Finish, Runner, listen_in_threads
from gaugelink.capture.session import CaptureSession
from gaugelink.cli.bell import Bell
from gaugelink.cli.console import open_console
from gaugelink.cli.folders import format_folders
from gaugelink.cli.output import emit_json, say
from gaugelink.cli.screen import Screen
from gaugelink.cli.talk import Talk
from gaugelink.devices import open_gauge
from gaugelink.devices.gauge import Gauge
from gaugelink.errors import InputError
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.keeper import JobKeeper
from gaugelink.model import DepthReference
from gaugelink.report.cautions import OPENING_CAUTIONS
from gaugelink.report.job_contract import job_json
from gaugelink.report.job_text import job_text


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureOptions:
    """What was typed after ``measure``."""

    title: str = ""
    depth_reference: DepthReference | None = None
    with_: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    resume: int | None = None
    quiet: bool = False
    journal: Path | None = None
    folders: tuple[Path, ...] = ()


def run(addresses: Sequence[str], options: MeasureOptions, *, as_json: bool) -> None:
    """Measure until the job is closed or left, and say what stands."""
    gauges = [open_gauge(address, folders=format_folders(options.folders)) for address in addresses]
    with Journal.open(options.journal) as journal, ExitStack() as opened:
        for gauge in gauges:
            opened.enter_context(gauge)
        record = begin(journal, gauges, options)
        finish = sit(journal, record, gauges, quiet=options.quiet)
        record = journal.load(record.job_id)
    if as_json:
        emit_json(job_json(record, measured_parts(record)))
    else:
        say(job_text(record, measured_parts(record)))
    say(_farewell(record, finish))


def begin(journal: Journal, gauges: Sequence[Gauge], options: MeasureOptions) -> JobRecord:
    """Return the job to measure: a new one, or the one to continue.

    Raises:
        InputError: the job to continue is closed, or there is none open.
        JobNotFound: no job has that number.
    """
    if options.resume is None:
        plan = make_plan(_depth_reference(options), with_=options.with_, without=options.without)
        CaptureSession(plan, [gauge.info for gauge in gauges])  # refuses what makes no job
        job_id = journal.create_job(JobSetup(title=options.title, plan=plan))
    else:
        job_id = options.resume or journal.latest_open() or 0
        if not job_id or journal.load(job_id).closed:
            raise InputError(
                f"Job {job_id} is closed." if job_id else "There is no open job to continue.",
                hint="'gaugelink jobs' lists the jobs; leave --resume out to begin a new one.",
            )
    for gauge in gauges:
        journal.add_gauge(job_id, gauge.info)
    return journal.load(job_id)


def sit(journal: Journal, record: JobRecord, gauges: Sequence[Gauge], *, quiet: bool) -> Finish:
    """Run one sitting of a job; what was heard is kept even when it is interrupted."""
    present = frozenset(gauge.gauge_id for gauge in gauges)
    session = CaptureSession(
        remaining_plan(record, present), [gauge.info for gauge in gauges], review_series
    )
    session.restore(record.acts)
    console = open_console(gauges)
    sources = [*gauges, *([console] if console else [])]
    console_id = console.gauge_id if console else ""
    try:
        with _watching(session, record, quiet=quiet) as watcher:
            runner = Runner(
                session, JobKeeper(journal=journal, job_id=record.job_id), watcher, console_id
            )
            with listen_in_threads(sources) as heard:
                finish = runner.run(heard)
    except KeyboardInterrupt:
        finish = Finish.STOPPED
    finally:
        if console:
            console.close()
        journal.commit()
    if finish is Finish.CLOSED and not session.unserved:
        journal.mark_closed(record.job_id)
    return finish


@contextmanager
def _watching(
    session: CaptureSession, record: JobRecord, *, quiet: bool
) -> Iterator[Screen | Talk]:
    bell = Bell(enabled=not quiet)
    title = f"job {record.job_id}  {record.setup.title}".rstrip()
    say(OPENING_CAUTIONS)
    if sys.stderr.isatty():
        with Screen(session, bell, title) as screen:
            yield screen
    else:
        say(title)
        talk = Talk(session, bell)
        talk.begin()
        yield talk


def _depth_reference(options: MeasureOptions) -> DepthReference:
    """Ask what the depth goes up to when nobody said and somebody is there to answer."""
    if options.depth_reference is not None:
        return options.depth_reference
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        say("Depth is taken from floor to rim; --depth-from seat if you measure to the lid seat.")
        return DepthReference.RIM
    import typer

    seat = typer.confirm(
        "Do you measure the depth to the seat of the lid? (no: to the rim of the barrel)", err=True
    )
    return DepthReference.SEAT if seat else DepthReference.RIM


def _farewell(record: JobRecord, finish: Finish) -> str:
    number = record.job_id
    if finish is Finish.CLOSED:
        return f"Job {number} is complete. Size it with: gaugelink size {number}"
    return (
        f"Job {number} is kept as far as it went. Continue with: "
        f"gaugelink measure ADDRESS --resume {number}   or size it: gaugelink size {number}"
    )
