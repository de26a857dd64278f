"""The barrel and the springs known of, from typed values and a job joined.

What was typed of the found spring beside its sizes: clues to its length, its condition.

What a job comes to, with what is known of its gauges at this moment.

What was typed of a barrel, kept with a result, so that its page need not be told again.

From the parameters of a command to what was typed of the barrel, by their names.

What was typed of the watch around the barrel: material, arrangement, train, amplitude.
"""

from __future__ import annotations

import shlex
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from gaugelink.assembly.parts import measured_parts
from gaugelink.assembly.quantities import (
    Findings,
    findings_of,
    given_spring,
    measured_doubts,
    measured_quantities,
)
from gaugelink.capture.plan import JobRecord
from gaugelink.cli.output import say
from gaugelink.errors import InputError
from gaugelink.gauge_record import GaugeRecord
from gaugelink.jobbook.fact_book import FactBook
from gaugelink.jobbook.facts import ChoiceVersion, SizeVersion, StoredFact, TrainData
from gaugelink.jobbook.gauge_records import GaugeRecords
from gaugelink.jobbook.journal import Journal
from gaugelink.mechanics.arrangement import Arrangement, BarrelKind, Stopwork, Winding
from gaugelink.mechanics.materials import OPEN, EndType, end_named, material_named
from gaugelink.mechanics.motion import MeasuredAmplitude, Position, Wind
from gaugelink.mechanics.train import train_from_text
from gaugelink.model import DepthReference
from gaugelink.quantities import (
    TypedLength,
    parse_count,
    parse_length,
    parse_mass,
    parse_positive,
    parse_spring,
)
from gaugelink.report.json_sizing import Json
from gaugelink.report.table import wrapped
from gaugelink.sizing.covered import Covered, Refused, covered
from gaugelink.sizing.found_clues import typed_clue, with_found_length
from gaugelink.sizing.inputs import CLEARANCE, FoundSeen, SizingInputs, typed_input
from gaugelink.sizing.results import SizingWarning
from gaugelink.statistics.outlier_method import OutlierMethod
from gaugelink.uncertainty.estimate import Quantity

LENGTH_CLUES = ("mass", "coils", "band_inside", "core", "wound_outside", "core_coils")
CONDITION = ("free_diameter", "loose_coils", "thickness_spread")
_COUNTS = ("coils", "core_coils")


def with_clues(
    inputs: SizingInputs, typed: Mapping[str, str | None], measured_spread_mm: float | None = None
) -> SizingInputs:
    """Return the inputs with the length and the condition that were typed.

    Args:
        inputs: what else is known.
        typed: what was typed by name, one of ``LENGTH_CLUES`` and ``CONDITION``.
        measured_spread_mm: spread of the thickness readings of the job, if it has some.

    Raises:
        InputError: something typed cannot be used.
        SizingError: the clues suffice for no length, or are not possible.
    """
    given = {name: text for name, text in typed.items() if text is not None}
    clues = {name: _clue(name, given[name]) for name in LENGTH_CLUES if name in given}
    inputs = replace(inputs, seen=_seen(given, measured_spread_mm))
    return with_found_length(inputs, clues)


def _clue(name: str, text: str) -> Quantity:
    spoken = f"found {name.replace('_', ' ')}"
    if name == "mass":
        mass = parse_mass(text, spoken)
        return typed_clue(name, mass.value, mass.u)
    if name in _COUNTS:
        count = parse_count(text, spoken)
        return typed_clue(name, count.value, count.u)
    length = parse_length(text, spoken)
    return typed_clue(name, length.value_mm, length.u_mm)


def _seen(given: Mapping[str, str], measured_spread_mm: float | None) -> FoundSeen | None:
    free, loose, spread = (given.get(name) for name in CONDITION)
    spread_mm = parse_length(spread, "found thickness spread").value_mm if spread else None
    seen = FoundSeen(
        free_diameter=_clue("free_diameter", free) if free else None,
        loose_coils=parse_count(loose, "found loose coils").value if loose else None,
        thickness_spread_mm=measured_spread_mm if spread_mm is None else spread_mm,
    )
    return None if seen == FoundSeen() else seen


def job_findings(
    record: JobRecord,
    known: Mapping[str, GaugeRecord],
    treatment: OutlierMethod = OutlierMethod.GRUBBS,
) -> Findings:
    """Return the sizes of a job, and what is doubtful about its gauges now and its parts.

    Args:
        record: the job.
        known: what is known of its gauges, by identity.
        treatment: the test for outlying readings.
    """
    return findings_of(record, known, datetime.now(UTC), treatment)


def known_gauges(record: JobRecord, journal: Path | None) -> Mapping[str, GaugeRecord]:
    """Return what is known of the gauges of a job, by identity.

    Args:
        record: the job.
        journal: the file in which the records are; None for the usual one.
    """
    with GaugeRecords(journal, to_read=True) as records:
        return records.of(gauge.gauge_id for gauge in record.gauges)


_LENGTHS = ("bore", "depth", "lid", "recess", "arbor", "clearance")
_FOUND = ("found_thickness", "found_height", "found_length")


def barrel_typed(typed: Mapping[str, Any]) -> BarrelOptions:
    """Sort what was typed; parameters that do not concern the barrel are passed over.

    Args:
        typed: the parameters of a command by name; those that ``cli.options`` defines
            bear the names used there, in lower case with underscores.
    """
    depth_from = typed["depth_from"]
    watch = {field.name: typed[field.name] for field in fields(WatchOptions) if field.name in typed}
    return BarrelOptions(
        job=typed["job"],
        lengths={name: typed[name] for name in (*_LENGTHS, *_FOUND)},
        depth_reference=DepthReference(depth_from) if depth_from else None,
        documented=typed["documented"],
        hours_per_turn=typed["hours_per_turn"],
        wanted_turns=typed.get("wanted_turns"),
        journal=typed["journal"],
        outliers=OutlierMethod(typed["outliers"]),
        watch=WatchOptions(**watch),
        clues={name: typed[f"found_{name}"] for name in (*LENGTH_CLUES, *CONDITION)},
    )


_WINDS = {None: Wind.FULL, "full": Wind.FULL, "24h": Wind.DAY_LATER}


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchOptions:
    """What was typed; None where nothing was."""

    material: str | None = None
    end: str | None = None
    length_without_end: bool = False
    barrel: str | None = None
    winding: str | None = None
    stopwork: str | None = None
    train: str | None = None
    train_from: str | None = None
    last_turn_h: str | None = None
    winding_train: str | None = None
    amplitude: str | None = None
    position: str | None = None
    wind: str | None = None
    wished_amplitude: str | None = None


def with_watch(inputs: SizingInputs, typed: WatchOptions) -> SizingInputs:
    """Return the inputs with what was typed of the watch.

    Raises:
        InputError: something typed cannot be used.
    """
    return replace(
        inputs,
        material=material_named(typed.material or OPEN),
        arrangement=_arrangement(typed),
        length_includes_end=not typed.length_without_end,
        train=train_from_text(typed.train) if typed.train else None,
        train_from_arbor=typed.train_from == "arbor",
        last_turn_h=parse_positive(typed.last_turn_h or "1", "last turn h"),
        winding_train=train_from_text(typed.winding_train) if typed.winding_train else None,
        amplitude=_amplitude(typed),
        wished_amplitude_deg=_wished(typed),
    )


def _arrangement(typed: WatchOptions) -> Arrangement:
    end = end_named(typed.end) if typed.end else None
    return Arrangement(
        kind=BarrelKind(typed.barrel or BarrelKind.GOING),
        winding=_winding(typed.winding, end),
        stopwork=_stopwork(typed.stopwork) if typed.stopwork else None,
        end=end,
    )


def _winding(typed: str | None, end: EndType | None) -> Winding:
    """A slipping bridle tells how the watch is wound when nobody says so."""
    if typed is not None:
        return Winding(typed)
    return Winding.AUTOMATIC if end is not None and end.slips else Winding.HAND


def _stopwork(text: str) -> Stopwork:
    parts = text.replace(";", " ").split()
    try:
        turns, set_up = (float(part.replace(",", ".")) for part in parts)
    except ValueError as exc:
        raise InputError(
            f"stopwork: {text!r} is not turns and set-up.",
            hint='Give the turns that it allows and those it was set up by: "4 1".',
        ) from exc
    return Stopwork(turns=turns, set_up_turns=set_up)


def _amplitude(typed: WatchOptions) -> MeasuredAmplitude | None:
    if typed.amplitude is None:
        return None
    return MeasuredAmplitude(
        amplitude_deg=parse_positive(typed.amplitude, "amplitude"),
        position=Position(typed.position or Position.HORIZONTAL),
        wind=_WINDS[typed.wind],
    )


def _wished(typed: WatchOptions) -> float | None:
    if typed.wished_amplitude is None:
        return None
    if typed.amplitude is None:
        raise InputError(
            "A wished amplitude alone says nothing of the spring.",
            hint="Give --amplitude as well: what the found spring does.",
        )
    return parse_positive(typed.wished_amplitude, "wished amplitude")


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


TYPED = "typed"
_CLUE = "found_"
_USUAL = {"clearance": f"{CLEARANCE.value:g}"}  # typer fills it in where nothing was typed
_WATCH = tuple(field.name for field in fields(WatchOptions))
Words = Mapping[str, str | bool]  # by the name of the option


def words_of(barrel: BarrelOptions) -> dict[str, str | bool]:
    """Return what was typed of barrel, springs and watch; empty where nothing was."""
    everything = {
        **barrel.lengths,
        **{f"{_CLUE}{name}": text for name, text in barrel.clues.items()},
        "depth_from": barrel.depth_reference and str(barrel.depth_reference),
        "documented": barrel.documented,
        "hours_per_turn": barrel.hours_per_turn,
        **{name: getattr(barrel.watch, name) for name in _WATCH},
    }
    return {name: word for name, word in everything.items() if word and word != _USUAL.get(name)}


def kept_with(result: Json, barrel: BarrelOptions) -> Json:
    """Return a result with what was typed for it, to be kept with its job."""
    return {**result, TYPED: words_of(barrel)}


def latest_words(facts: Sequence[StoredFact]) -> dict[str, str | bool]:
    """Return what was typed for the latest sizing or choice of a job for which something was."""
    versions = (f.fact for f in reversed(facts) if isinstance(f.fact, SizeVersion | ChoiceVersion))
    return next((dict(words) for v in versions if (words := v.result.get(TYPED))), {})


def with_words(barrel: BarrelOptions, words: Words) -> BarrelOptions:
    """Return what was typed of the barrel with earlier words in the place of nothing."""
    texts = {name: word for name, word in words.items() if isinstance(word, str)}
    known = {name: word for name, word in words.items() if name in _WATCH}
    depth_from = texts.get("depth_from")
    return replace(
        barrel,
        lengths={name: texts.get(name, text) for name, text in barrel.lengths.items()},
        clues={name: texts.get(f"{_CLUE}{name}", text) for name, text in barrel.clues.items()},
        depth_reference=DepthReference(depth_from) if depth_from else barrel.depth_reference,
        documented=texts.get("documented"),
        hours_per_turn=texts.get("hours_per_turn"),
        watch=replace(barrel.watch, **known),  # type: ignore[arg-type]  # by the names of its fields
    )


def spoken(words: Words) -> str:
    """Return words as options of the command line."""
    return " ".join(_spoken(words))


def _spoken(words: Words) -> Iterator[str]:
    for name, word in words.items():
        option = f"--{name.replace('_', '-')}"
        yield option if word is True else f"{option} {shlex.quote(str(word))}"
