"""The barrel and the springs known of, from typed values and a job joined."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path

from gaugelink.assembly.parts import measured_parts
from gaugelink.assembly.quantities import given_spring, measured_doubts, measured_quantities
from gaugelink.capture.plan import JobRecord
from gaugelink.cli.clues import with_clues
from gaugelink.cli.findings import known_gauges
from gaugelink.cli.output import say
from gaugelink.cli.watch import WatchOptions, with_watch
from gaugelink.errors import InputError
from gaugelink.gauge_record import GaugeRecord
from gaugelink.jobbook.fact_book import FactBook
from gaugelink.jobbook.facts import TrainData
from gaugelink.jobbook.journal import Journal
from gaugelink.model import DepthReference
from gaugelink.quantities import TypedLength, parse_length, parse_positive, parse_spring
from gaugelink.report.table import wrapped
from gaugelink.sizing.covered import Covered, Refused, covered
from gaugelink.sizing.inputs import SizingInputs, typed_input
from gaugelink.sizing.results import SizingWarning
from gaugelink.statistics.outlier_method import OutlierMethod
from gaugelink.uncertainty.estimate import Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class BarrelOptions:
    """What was typed of the barrel; by name, None where nothing was typed.

    ``clues`` to the length and the condition of the found spring go by the names in ``clues``.
    """

    lengths: Mapping[str, str | None]
    job: int | None = None
    depth_reference: DepthReference | None = None
    documented: str | None = None
    hours_per_turn: str | None = None
    wanted_turns: str | None = None
    journal: Path | None = None
    outliers: OutlierMethod = OutlierMethod.GRUBBS
    watch: WatchOptions = field(default_factory=WatchOptions)
    clues: Mapping[str, str | None] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredJob:
    """A job and what is known of its gauges now, by identity."""

    record: JobRecord
    gauges: Mapping[str, GaugeRecord]


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownBarrel:
    """What a sizing starts from, and what is doubtful about the measuring behind it.

    ``inputs`` has only those wishes that a rule covers, ``refused`` the others.
    """

    inputs: SizingInputs
    job: MeasuredJob | None
    doubts: tuple[SizingWarning, ...]
    refused: tuple[Refused, ...] = ()


def known_barrel(options: BarrelOptions) -> KnownBarrel:
    """Join a job and typed values; typed ones take the place of measured and kept ones.

    Raises:
        InputError: no bore, or something typed that cannot be used.
        JournalError: the job cannot be read.
        SizingError: what was typed of watch or spring cannot be.
    """
    job, typed = _job(options), _typed(options)
    options = with_kept_train(options)
    treatment = options.outliers
    measured = measured_quantities(job.record, job.gauges, treatment) if job else {}
    wishes = _covered(options, _inputs(options, measured | typed, job), job)
    return KnownBarrel(
        inputs=wishes.inputs,
        job=job,
        doubts=_doubts(job, measured.keys() - typed.keys(), treatment) if job else (),
        refused=wishes.refused,
    )


def with_kept_train(options: BarrelOptions) -> BarrelOptions:
    """Take the train that is kept with the job where none is typed, and say so.

    Raises:
        JournalError: the facts of the job cannot be read.
    """
    typed = options.hours_per_turn is not None or options.watch.train is not None
    if options.job is None or typed:
        return options
    with FactBook(options.journal, to_read=True) as book:
        kept = book.latest(options.job, TrainData)
    if kept is None:
        return options
    hours = None if kept.hours_per_turn is None else f"{kept.hours_per_turn:.10g}"
    again = f"--train '{kept.teeth}'" if hours is None else f"--hours-per-turn {hours}"
    say(wrapped(f"As kept with job {options.job}: {again}", lead=""))
    if hours is not None:
        return replace(options, hours_per_turn=hours)
    return replace(options, watch=replace(options.watch, train=kept.teeth))


def _doubts(
    job: MeasuredJob, used: Collection[str], treatment: OutlierMethod
) -> tuple[SizingWarning, ...]:
    return measured_doubts(job.record, job.gauges, used, datetime.now(UTC), treatment)


def _covered(options: BarrelOptions, inputs: SizingInputs, job: MeasuredJob | None) -> Covered:
    measured = job is not None and options.lengths.get("found_thickness") is None
    spread_mm = _thickness_spread_mm(job, options.outliers) if job and measured else None
    return covered(with_clues(with_watch(inputs, options.watch), options.clues, spread_mm))


def _thickness_spread_mm(job: MeasuredJob, treatment: OutlierMethod) -> float | None:
    """Largest less smallest of what was measured along the found spring, two readings or more."""
    parts = measured_parts(job.record, treatment, job.gauges)
    summaries = (summary for part in parts for summary in part.summaries)
    return next(
        (s.spread_mm for s in summaries if s.measurand == "found_thickness" and s.n_used > 1), None
    )


def _inputs(
    options: BarrelOptions, known: Mapping[str, Quantity], job: MeasuredJob | None
) -> SizingInputs:
    if "bore" not in known:
        raise InputError(
            "There is no bore to size from.",
            hint="Give --bore, or the number of a job in which it was measured.",
        )
    reference = job.record.setup.plan.depth_reference if job else DepthReference.RIM
    return SizingInputs(
        bore=known["bore"],
        depth=known.get("depth"),
        lid=known.get("lid"),
        recess=known.get("recess"),
        arbor=known.get("arbor"),
        depth_reference=options.depth_reference or reference,
        clearance=known["clearance"],
        found=given_spring("found", known),
        documented=given_spring("documented", known),
        hours_per_turn=_positive(options.hours_per_turn, "hours per turn"),
        wanted_turns=_positive(options.wanted_turns, "wanted turns"),
    )


def _job(options: BarrelOptions) -> MeasuredJob | None:
    if options.job is None:
        return None
    with Journal.open(options.journal, to_read=True) as journal:
        record = journal.load(options.job)
    return MeasuredJob(record=record, gauges=known_gauges(record, options.journal))


def _typed(options: BarrelOptions) -> dict[str, Quantity]:
    typed = {
        name: _quantity(name, parse_length(text, name.replace("_", " ")))
        for name, text in options.lengths.items()
        if text is not None
    }
    if options.documented is not None:
        sizes = zip(
            ("height", "thickness", "length"),
            parse_spring(options.documented, "documented"),
            strict=True,
        )
        typed |= {f"documented_{size}": _quantity(f"documented_{size}", v) for size, v in sizes}
    return typed


def _quantity(name: str, length: TypedLength) -> Quantity:
    """Sizing labels a spring's size ``found.thickness``; options and jobs ``found_thickness``."""
    return typed_input(name.replace("_", "."), length.value_mm, length.u_mm)


def _positive(text: str | None, name: str) -> float | None:
    return None if text is None else parse_positive(text, name)
