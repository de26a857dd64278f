"""``gaugelink measure``: gauges, session, journal and screen, joined for one sitting."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from gaugelink.assembly.job import Job
from gaugelink.assembly.parts import remaining_plan, unit_begun_in
from gaugelink.assembly.reviewing import JobInHand, review_series
from gaugelink.capture.plan import JobRecord, JobSetup, make_plan
from gaugelink.capture.runner import Finish, Keeper
from gaugelink.capture.session import CaptureSession
from gaugelink.cli.jobs_search import earlier_text
from gaugelink.cli.output import emit_json, format_folders, person_reads, person_types, say
from gaugelink.cli.recall import Memory, RememberingKeeper
from gaugelink.cli.sitting import sit_with
from gaugelink.cli.stop_key import StopKey
from gaugelink.devices.gauge import Gauge
from gaugelink.devices.registry import open_gauge
from gaugelink.errors import InputError
from gaugelink.gauge_record import GaugeRecord
from gaugelink.jobbook.gauge_book import GaugeRecords
from gaugelink.jobbook.journal import JobKeeper, Journal
from gaugelink.model import DepthReference
from gaugelink.report.json_records import job_json
from gaugelink.report.table import OPENING_CAUTIONS, wrapped
from gaugelink.report.text_job import job_text


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
    """Measure until the job is closed or left, and say what stands.

    Without an address the remembered gauges are measured with that are plugged in.
    """
    _refuse_new_plan(options)
    memory = Memory(options.journal)
    addresses = [memory.completed(text) for text in addresses] or memory.plugged_in()
    with StopKey() as stop:
        _run(addresses, options, memory, stop, as_json=as_json)


def _run(
    addresses: Sequence[str],
    options: MeasureOptions,
    memory: Memory,
    stop: StopKey,
    *,
    as_json: bool,
) -> None:
    with Journal.open(options.journal) as journal, ExitStack() as opened:
        earlier = _job_to_continue(journal, options.resume)
        gauges = [
            opened.enter_context(_gauge(address, options.folders, earlier)) for address in addresses
        ]
        record = begin(journal, gauges, options, earlier)
        known = GaugeRecords.beside(journal).of(gauge.gauge_id for gauge in record.gauges)
        finish = sit(journal, record, gauges, stop, quiet=options.quiet, memory=memory, known=known)
        job = Job(record=journal.load(record.job_id), gauges=known)
    record, parts, findings = job.record, job.parts(), job.findings(datetime.now(UTC))
    if as_json:
        emit_json(job_json(record, parts, findings))
    else:
        say(job_text(record, parts, findings))
    say(_farewell(record, finish))
    if finish is Finish.CLOSED and (seen := earlier_text(record.job_id, options.journal)):
        say(wrapped(seen, lead=""))


def begin(
    journal: Journal,
    gauges: Sequence[Gauge],
    options: MeasureOptions,
    earlier: JobRecord | None = None,
) -> JobRecord:
    """Return the job to measure: ``earlier`` with the gauges of this sitting, or a new one.

    Raises:
        InputError: the gauges make no job.
    """
    if earlier is None:
        plan = make_plan(_depth_reference(options), with_=options.with_, without=options.without)
        CaptureSession(plan, [gauge.info for gauge in gauges])  # refuses what makes no job
        job_id = journal.create_job(JobSetup(title=options.title, plan=plan))
    else:
        job_id = earlier.job_id
    for gauge in gauges:
        journal.add_gauge(job_id, gauge.info)
    return journal.load(job_id)


def _refuse_new_plan(options: MeasureOptions) -> None:
    plan = (options.title, options.depth_reference, options.with_, options.without)
    if options.resume is not None and any(plan):
        raise InputError(
            "A job that is continued keeps its title and its plan.",
            hint="Leave out --title, --depth-from, --with and --without; the key s skips what is "
            "not to be measured.",
        )


def _job_to_continue(journal: Journal, resume: int | None) -> JobRecord | None:
    """Return the job that ``--resume`` names, 0 being the latest open one; None begins anew."""
    if resume is None:
        return None
    hint = "'gaugelink jobs' lists the jobs; leave --resume out to begin a new one."
    job_id = resume or journal.latest_open()
    if job_id is None:
        raise InputError("There is no open job to continue.", hint=hint)
    record = journal.load(job_id)
    if record.closed:
        raise InputError(f"Job {job_id} is closed.", hint=hint)
    return record


def _gauge(address: str, given: Sequence[Path], earlier: JobRecord | None) -> Gauge:
    """Build a gauge; one that took part before goes on in the unit it began in."""
    folders = format_folders(given)
    gauge = open_gauge(address, folders=folders)
    unit = unit_begun_in(earlier, gauge.gauge_id) if earlier else None
    return open_gauge(address, folders=folders, job_unit=unit) if unit else gauge


def sit(
    journal: Journal,
    record: JobRecord,
    gauges: Sequence[Gauge],
    stop: StopKey,
    *,
    quiet: bool,
    memory: Memory | None = None,
    known: Mapping[str, GaugeRecord] | None = None,
) -> Finish:
    """Run one sitting of a job; what was heard is kept even when it is interrupted.

    Args:
        journal: where it is kept.
        record: the job so far.
        gauges: those that are measured with now.
        stop: ends the sitting.
        quiet: without the bell.
        memory: where the gauges are remembered, if they are.
        known: what is known of the gauges, by identity.
    """
    plan = remaining_plan(record, frozenset(gauge.gauge_id for gauge in gauges))
    infos = tuple(gauge.info for gauge in gauges)
    job = JobInHand(plan=plan, gauges=infos, records=known or {})
    session = CaptureSession(plan, infos, partial(review_series, job=job))
    session.restore(record.acts)
    keeper: Keeper = JobKeeper(journal=journal, job_id=record.job_id)
    if memory is not None:
        keeper = RememberingKeeper(keeper, memory, [gauge.info for gauge in gauges])
    title = f"job {record.job_id}  {record.setup.title}".rstrip()
    finish = sit_with(
        session, gauges, keeper, stop, title=title, quiet=quiet, notice=OPENING_CAUTIONS
    )
    if finish is Finish.CLOSED and not session.unserved:
        journal.mark_closed(record.job_id)
    return finish


def _depth_reference(options: MeasureOptions) -> DepthReference:
    """Ask what the depth goes up to when nobody said and somebody is there to answer."""
    if options.depth_reference is not None:
        return options.depth_reference
    if not (person_types() and person_reads()):
        say("Depth is taken from floor to rim; --depth-from seat if you measure to the lid seat.")
        return DepthReference.RIM
    import typer

    seat = typer.confirm(
        "Do you measure the depth to the seat of the lid? (no: to the rim of the barrel)", err=True
    )
    return DepthReference.SEAT if seat else DepthReference.RIM


def _farewell(record: JobRecord, finish: Finish) -> str:
    number = record.job_id
    if record.closed:
        return f"Job {number} is complete. Size it with: gaugelink size {number}"
    so_far = f"Job {number} is kept as far as it went."
    if finish is Finish.CLOSED:
        so_far = f"This is done, and job {number} is kept. The rest takes another gauge."
    return (
        f"{so_far}\n"
        f"  Continue it: gaugelink measure ADDRESS --resume {number}\n"
        f"  Size it:     gaugelink size {number}"
    )
