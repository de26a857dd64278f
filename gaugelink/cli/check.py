"""``gaugelink check``: reads zero and known lengths hands-free, and keeps a gauge's record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gaugelink.cli.options import (
    Display,
    DisplayOn,
    DisplayOpen,
    DisplayStay,
    Formats,
    Journal,
    Json,
    Quiet,
    page_for,
)

if TYPE_CHECKING:
    from gaugelink.capture.check_plan import CheckSession
    from gaugelink.capture.runner import Finish
    from gaugelink.cli.display import BenchDisplay
    from gaugelink.cli.stop_key import StopKey
    from gaugelink.devices.gauge import Gauge
    from gaugelink.gauge_check import KnownLength
    from gaugelink.gauge_record import GaugeCheck, GaugeRecord
    from gaugelink.jobbook.gauge_book import GaugeRecords
    from gaugelink.model import GaugeInfo
    from gaugelink.report.json_records import ShownGauge


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckOptions:
    """What was typed after ``check``."""

    address: str | None = None
    lengths: tuple[tuple[str, str], ...] = ()  # what holds it, and the length as typed
    readings: int = 10
    zeros: int = 5
    tolerance_mm: str | None = None
    settings: tuple[str, ...] = ()
    points: tuple[str, ...] = ()
    show: bool = False
    quiet: bool = False
    journal: Path | None = None
    folders: tuple[Path, ...] = ()

    @property
    def changes_nothing(self) -> bool:
        """True where nothing is measured and nothing set."""
        return not (self.lengths or self.settings or self.points)


def check(
    address: Annotated[
        str | None, typer.Argument(help="The gauge; may be left out with --show.")
    ] = None,
    length: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LENGTH", help='A block or pin, such as "5.000 +- 0.0002 mm". Repeatable.'
        ),
    ] = None,
    ring: Annotated[
        list[str] | None,
        typer.Option(metavar="LENGTH", help="A ring, for the inside jaws. Repeatable."),
    ] = None,
    gap: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LENGTH", help="Two pins or blocks held apart, for the inside jaws. Repeatable."
        ),
    ] = None,
    step: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LENGTH", help="A step or stack of blocks, for the depth rod. Repeatable."
        ),
    ] = None,
    readings: Annotated[int, typer.Option(help="Readings of each length.")] = 10,
    zeros: Annotated[int, typer.Option(help="Zero readings before them.")] = 5,
    tolerance: Annotated[
        str | None, typer.Option(metavar="MM", help="Tolerance for Cg and Cgk, from end to end.")
    ] = None,
    set_: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="NAME=VALUE",
            help="Put into its record: mpe_mm, shift_mpe_mm, mpe_source, resolution_mm, "
            "serial, jaw_flats_mm, anvils, interval_days, certificate, correct. Repeatable.",
        ),
    ] = None,
    point: Annotated[
        list[str] | None,
        typer.Option(
            metavar='"SIZE CORR U K"', help="A point of its certificate, in mm. Repeatable."
        ),
    ] = None,
    show: Annotated[bool, typer.Option("--show", help="Show its record; all without ADDRESS.")] = (
        False
    ),
    quiet: Quiet = False,
    display: Display = False,
    display_open: DisplayOpen = False,
    display_on: DisplayOn = None,
    display_stay: DisplayStay = False,
    journal: Journal = None,
    json: Json = False,
    formats: Formats = None,
) -> None:
    """Check a gauge on known lengths, and record its limits, certificate, jaw flats.

    Zero and lengths are read hands-free, as in a job. Outside, inside and depth faces are
    checked each with their own lengths. correct=inside,depth takes the bias that a passed
    check found off what these faces read. A correction is what to add to the reading, U what
    the certificate states with K. A gauge that fails ends with exit code 3.
    """
    from contextlib import ExitStack

    from gaugelink.cli.stop_key import StopKey
    from gaugelink.jobbook.gauge_book import GaugeRecords

    options = CheckOptions(
        address=address,
        lengths=tuple(
            (held_by, text)
            for held_by, texts in (("length", length), ("ring", ring), ("gap", gap), ("step", step))
            for text in texts or ()
        ),
        readings=readings,
        zeros=zeros,
        tolerance_mm=tolerance,
        settings=tuple(set_ or ()),
        points=tuple(point or ()),
        show=show,
        quiet=quiet,
        journal=journal,
        folders=tuple(formats or ()),
    )
    _refuse_idle(options)
    if options.address is None:
        with GaugeRecords(options.journal, to_read=True) as records:
            _report(None, records.all(), None, as_json=json)
        return
    with ExitStack() as whole:
        stop = whole.enter_context(StopKey())
        asked = {"display": display, "opens": display_open, "stays": display_stay}
        page = page_for(whole, stop, on=display_on, **asked) if options.lengths else None
        _run(_gauge(options, options.address), options, stop, as_json=json, page=page)


def _run(
    gauge: Gauge,
    options: CheckOptions,
    stop: StopKey,
    *,
    as_json: bool,
    page: BenchDisplay | None,
) -> None:
    from gaugelink.errors import DeviceError
    from gaugelink.gauge_record import CheckVerdict, with_record
    from gaugelink.jobbook.gauge_book import GaugeRecords

    with GaugeRecords(options.journal, to_read=options.changes_nothing) as records:
        record = _changed(records, gauge, options)
        check = _checked(gauge, record, options, stop, page) if options.lengths else None
        if check is not None:
            records.add_check(record, check)
            record = records.load(gauge.gauge_id) or record
    _report(check, [record], with_record(gauge.info, record), as_json=as_json)
    if check is not None and page is not None:
        page.end_checked(check)
    if check is not None and check.verdict is CheckVerdict.FAIL:
        raise DeviceError(
            f"The {record.kind} {record.gauge_id} failed its check.",
            address=gauge.info.address,
            hint="Wipe its faces and the block, set zero, and check again; results carry a "
            "warning meanwhile.",
        )


def _refuse_idle(options: CheckOptions) -> None:
    from gaugelink.errors import InputError

    if options.address is None and not (options.changes_nothing and options.show):
        raise InputError(
            "No gauge is named.", hint="Type its address, or only --show for all records."
        )
    if options.changes_nothing and not options.show:
        raise InputError(
            "Nothing to check.",
            hint='Give a block or pin as --length "5.000 +- 0.0002 mm", a --ring, --gap or --step '
            "for the other faces, or --set, or --show.",
        )


def _gauge(options: CheckOptions, address: str) -> Gauge:
    from gaugelink.cli.output import format_folders
    from gaugelink.cli.recall import Memory
    from gaugelink.devices.registry import open_gauge

    completed = Memory(options.journal).completed(address)
    return open_gauge(completed, folders=format_folders(options.folders))


def _changed(records: GaugeRecords, gauge: Gauge, options: CheckOptions) -> GaugeRecord:
    """Return the record as it is to be; it is kept when there is something to keep."""
    from gaugelink.cli.check_settings import changed
    from gaugelink.gauge_record import GaugeRecord

    info = gauge.info
    blank = GaugeRecord(gauge_id=info.gauge_id, kind=info.kind)
    record = replace(records.load(info.gauge_id) or blank, kind=info.kind)
    record = changed(record, options.settings, options.points)
    if options.settings or options.points:
        records.save(record)
    return record


def _checked(
    gauge: Gauge,
    record: GaugeRecord,
    options: CheckOptions,
    stop: StopKey,
    page: BenchDisplay | None,
) -> GaugeCheck:
    from gaugelink.capture.check_plan import CheckSession, make_check_plan
    from gaugelink.capture.plan import JobSetup
    from gaugelink.cli.check_settings import known_lengths
    from gaugelink.cli.recall import Memory, RememberingKeeper
    from gaugelink.cli.sitting import sit_with
    from gaugelink.jobbook.journal import JobKeeper
    from gaugelink.jobbook.journal import Journal as OpenJournal

    lengths = known_lengths(options.lengths)
    _refuse_missing_faces(record, lengths)
    tolerance_mm = _tolerance_mm(options, record)
    held = [(each.standard.value, each.value_mm) for each in lengths]
    plan = make_check_plan(held, options.readings)
    session = CheckSession(plan, gauge.info, options.zeros)
    title = f"check of {gauge.gauge_id}"
    with OpenJournal.open(options.journal) as journal:
        job_id = journal.create_job(JobSetup(title=title, plan=plan))
        journal.add_gauge(job_id, gauge.info)
        journal.mark_closed(job_id)  # a check is not gone on with by measure --resume 0
        keeper = RememberingKeeper(
            JobKeeper(journal=journal, job_id=job_id), Memory(options.journal), [gauge.info]
        )
        notice = _what_to_do(lengths, options)
        attach = page and page.attaching(job_id, title, notice)
        with gauge:
            finish = sit_with(
                session,
                [gauge],
                keeper,
                stop,
                title=title,
                quiet=options.quiet,
                notice=notice,
                attach=attach,
            )
    return _found(session, finish, lengths, record, job_id=job_id, tolerance_mm=tolerance_mm)


def _refuse_missing_faces(record: GaugeRecord, lengths: Sequence[KnownLength]) -> None:
    from gaugelink.errors import InputError
    from gaugelink.gauge_record import Face
    from gaugelink.model import GaugeKind

    others = [each for each in lengths if each.standard.face is not Face.OUTSIDE]
    if others and record.kind is GaugeKind.MICROMETER:
        raise InputError(
            f"A micrometer has no faces for a {others[0].standard}.",
            hint="Check it on a block or pin: --length.",
        )


def _what_to_do(lengths: Sequence[KnownLength], options: CheckOptions) -> str:
    from gaugelink.gauge_check import Standard

    blocks = ", ".join(
        ("" if each.standard is Standard.LENGTH else f"the {each.standard} of ")
        + f"{each.value_mm:.7g} mm"
        for each in lengths
    )
    return (
        f"Zero: close the faces, {options.zeros} in all, and open them in between. Then read "
        f"{blocks}, {options.readings} readings each. Then close the faces once more."
    )


def _found(
    session: CheckSession,
    finish: Finish,
    lengths: Sequence[KnownLength],
    record: GaugeRecord,
    *,
    job_id: int,
    tolerance_mm: float,
) -> GaugeCheck:
    from gaugelink.capture.acts import ZERO
    from gaugelink.capture.check_plan import length_name
    from gaugelink.capture.runner import Finish
    from gaugelink.errors import StatisticsError
    from gaugelink.gauge_check import length_found, zero_found
    from gaugelink.gauge_record import Face, GaugeCheck, with_record

    (lane,) = session.lanes.values()
    if finish is not Finish.CLOSED:
        raise StatisticsError(
            f"The check was not finished. Its readings are in job {job_id}, the gauge's record is "
            "unchanged.",
            hint="Begin the check again.",
        )
    zero = zero_found(lane.series(ZERO))
    limits = with_record(lane.info, record)
    more_mm = {Face.OUTSIDE: 0.0}
    return GaugeCheck(
        checked_utc=datetime.now(UTC).isoformat(timespec="milliseconds"),
        job_id=job_id,
        zero=zero,
        lengths=tuple(
            length_found(
                lane.series(length_name(known.standard.value, known.value_mm)),
                known,
                zero,
                mpe_mm=limits.mpe_mm + more_mm.get(known.standard.face, limits.shift_mpe_mm),
                tolerance_mm=tolerance_mm,
                flats=record.jaw_flats,
            )
            for known in lengths
        ),
    )


def _tolerance_mm(options: CheckOptions, record: GaugeRecord) -> float:
    from gaugelink.gauge_check import TOLERANCE_MM
    from gaugelink.quantities import parse_positive

    if options.tolerance_mm is None:
        return TOLERANCE_MM[record.kind]
    return parse_positive(options.tolerance_mm, "tolerance")


def _report(
    check: GaugeCheck | None,
    records: Sequence[GaugeRecord],
    info: GaugeInfo | None,
    *,
    as_json: bool,
) -> None:
    from gaugelink.cli.output import emit, emit_json
    from gaugelink.report.json_records import check_report_json
    from gaugelink.report.text_check import check_text, gauge_text

    now = datetime.now(UTC)
    shown = [_shown(record, info, now) for record in records]
    if as_json:
        emit_json(check_report_json(check, shown))
        return
    parts = [check_text(check)] if check else []
    parts += [gauge_text(each) for each in shown]
    emit("\n\n".join(parts) if parts else "No gauge has a record yet.")


def _shown(record: GaugeRecord, info: GaugeInfo | None, now: datetime) -> ShownGauge:
    """Join a record with the limits that hold: those of the gauge that was named, if one was.

    Else those of its kind hold where the record states none.
    """
    from gaugelink.assembly.measured import check_age_days
    from gaugelink.devices.registry import LIMITS
    from gaugelink.gauge_record import RECORD_SOURCE
    from gaugelink.report.json_records import ShownGauge

    age_days = check_age_days(record, now)
    if info is not None:
        return ShownGauge(
            record=record,
            mpe_mm=info.mpe_mm,
            shift_mpe_mm=info.shift_mpe_mm,
            mpe_source=info.mpe_source,
            age_days=age_days,
        )
    limits = LIMITS[record.kind]
    states = record.mpe_mm is not None or record.shift_mpe_mm is not None
    return ShownGauge(
        record=record,
        mpe_mm=limits.mpe_mm if record.mpe_mm is None else record.mpe_mm,
        shift_mpe_mm=limits.shift_mpe_mm if record.shift_mpe_mm is None else record.shift_mpe_mm,
        mpe_source=(record.mpe_source or RECORD_SOURCE) if states else limits.source,
        age_days=age_days,
    )
