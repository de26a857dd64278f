"""From what was typed of a barrel, and a job it was measured in, to what the sizing starts from.

``Typed`` holds the words as they were typed, by the name of their row in ``BARREL_OPTIONS``:
they are read here, kept with the job of a result, and said again for its page.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from gaugelink.cli.options import BARREL_OPTIONS, Typed
from gaugelink.cli.output import say
from gaugelink.errors import InputError, JournalError
from gaugelink.mechanics.arrangement import Arrangement, Winding
from gaugelink.mechanics.motion import MeasuredAmplitude
from gaugelink.mechanics.signs import FoundSeen
from gaugelink.model import Advice
from gaugelink.sizing.covered import Covered, covered
from gaugelink.sizing.inputs import (
    GivenFusee,
    GivenSpring,
    SizingInputs,
    given_spring,
    usual_play,
    with_found_length,
)
from gaugelink.sizing.order import room_of

if TYPE_CHECKING:
    from gaugelink.assembly.job import Job
    from gaugelink.jobbook.facts import StoredFact
    from gaugelink.report.json_sizing import Json
    from gaugelink.statistics.outlier_method import OutlierMethod
    from gaugelink.uncertainty.estimate import Quantity

TYPED = "typed"  # key under which the words stand in a result that is kept with its job


def sizing_inputs(typed: Typed, job: Job | None, treatment: OutlierMethod | None = None) -> Covered:
    """Join a job and typed words; typed ones take the place of measured and kept ones.

    Args:
        typed: words by the name of their row in ``BARREL_OPTIONS``.
        job: the job it was measured in, if there is one.
        treatment: the test for outlying readings; None is the usual one.

    Returns:
        What the sizing starts from, with only those wishes that a rule covers, and the others.

    Raises:
        InputError: no bore, or something typed that cannot be used.
        SizingError: what was typed of watch or spring cannot be.
    """
    typed = with_kept_words(typed, job)
    fields = _filled(typed, _measured(typed, job, treatment))
    if job is not None and not typed.get("found_thickness_spread") and "seen" in fields:
        fields["seen"]["thickness_step_mm"] = job.step_mm(
            "found_thickness", usual_if_none(treatment)
        )
    if "bore" not in fields:
        raise InputError(
            "The bore is missing.",
            hint="Give --bore, or the number of a job in which it was measured.",
        )
    if "wished_amplitude_deg" in fields and "amplitude" not in typed:
        raise InputError(
            "--wished-amplitude needs --amplitude as well.",
            hint="Add --amplitude: the swing with the found spring.",
        )
    clues = fields.pop("clues", {})
    made = {name: make(fields[name]) for name, make in _MADE_OF_PARTS.items() if name in fields}
    inputs = SizingInputs(**{**fields, **made})
    if "clearance" not in fields and (room := room_of(inputs)) is not None:
        inputs = replace(inputs, clearance=usual_play(room.value_mm))
    return covered(with_found_length(inputs, clues))


def doubts_of(typed: Typed, job: Job | None, treatment: OutlierMethod | None) -> tuple[Advice, ...]:
    """Return what a result must say of the measuring behind it: of what was not typed."""
    if job is None:
        return ()
    from datetime import UTC, datetime

    treatment = usual_if_none(treatment)
    used = job.quantities(treatment).keys() - typed.keys()
    return job.doubts(used, datetime.now(UTC), treatment)


def with_kept_words(typed: Typed, job: Job | None) -> Typed:
    """Take train, winding and outer end that are kept with a job where none is typed; say so."""
    kept = kept_words(typed, job)
    if job is None or not kept:
        return typed
    from gaugelink.report.table import wrapped

    say(wrapped(f"As kept with job {job.number}: {spoken(kept)}", lead=""))
    return {**typed, **kept}


def kept_words(typed: Typed, job: Job | None) -> Typed:
    """Return what is kept with a job of its train, and of how it is wound, where none is typed.

    Winding and outer end go together: who types one says both.
    """
    if job is None:
        return {}
    pair = {} if any(typed.get(name) for name in _WOUND) else _kept_pair(job)
    return {**_kept_train(typed, job), **pair}


_WOUND = ("winding", "end")


def _kept_pair(job: Job) -> Typed:
    from gaugelink.jobbook.facts import HowWound

    words = (
        _words({"winding": stored.fact.winding, "end": stored.fact.end})
        if isinstance(stored.fact, HowWound)
        else next(_kept_words([stored]), {})
        for stored in reversed(job.facts)
    )
    pairs = ({name: said[name] for name in _WOUND if said.get(name)} for said in words)
    return next((pair for pair in pairs if pair), {})


def _kept_train(typed: Typed, job: Job) -> Typed:
    if "hours_per_turn" in typed or "train" in typed:
        return {}
    from gaugelink.jobbook.facts import TrainData

    kept = job.latest(TrainData)
    if kept is None:
        return {}
    if kept.hours_per_turn is not None:
        return {"hours_per_turn": f"{kept.hours_per_turn:.10g}"}
    return {"train": kept.teeth} if kept.teeth else {}


def kept_with(result: Json, typed: Typed) -> Json:
    """Return a result with what was typed for it, to be kept with its job."""
    once = {row.name for row in BARREL_OPTIONS if row.only}
    words = {name: word for name, word in typed.items() if word and name not in once}
    return {**result, TYPED: words}


@contextmanager
def keeping(job: int) -> Iterator[None]:
    """Let a journal that cannot keep an answer say that this was all that went wrong.

    Raises:
        JournalError: it could not be kept.
    """
    try:
        yield
    except JournalError as exc:
        raise type(exc)(
            f"The answer is as above, but it is not in job {job}: {exc}",
            path=exc.path,
            hint=exc.hint,
        ) from exc


def latest_words(facts: Sequence[StoredFact]) -> Typed:
    """Return what was typed for the latest sizing or choice of a job for which something was."""
    return next((words for words in _kept_words(facts) if words), {})


def _kept_words(facts: Sequence[StoredFact]) -> Iterator[Typed]:
    """Yield what was typed for each sizing and choice, the latest first."""
    from gaugelink.jobbook.facts import ChoiceVersion, SizeVersion

    versions = (f.fact for f in reversed(facts) if isinstance(f.fact, SizeVersion | ChoiceVersion))
    yield from (_words(version.result.get(TYPED, {})) for version in versions)


def _words(kept: Mapping[str, Any]) -> Typed:
    """Leave out what no option could have been; a journal may come from anywhere."""
    flags = {row.name: row.read is None for row in BARREL_OPTIONS}
    return {
        name: word
        for name, word in kept.items()
        if (isinstance(word, str) and flags.get(name) is False)
        or (word is True and flags.get(name) is True)
    }


def spoken(typed: Typed) -> str:
    """Return words as options of the command line."""
    import shlex

    rows = {row.name: row for row in BARREL_OPTIONS}
    switches = ((rows[name].switch, word) for name, word in typed.items())
    return " ".join(
        switch if word is True else f"{switch} {shlex.quote(str(word))}"
        for switch, word in switches
    )


def usual_if_none(treatment: OutlierMethod | None) -> OutlierMethod:
    """Return a test for outlying readings, the usual one where none is named."""
    from gaugelink.statistics.outlier_method import OutlierMethod

    return OutlierMethod.GRUBBS if treatment is None else treatment


def _measured(
    typed: Typed, job: Job | None, treatment: OutlierMethod | None
) -> Mapping[str, object]:
    """What a job says, under the names of what may be typed instead."""
    if job is None:
        return {}
    measured: dict[str, object] = {
        "depth_from": job.record.setup.plan.depth_reference,
        **job.quantities(usual_if_none(treatment)),
    }
    if "found_thickness" not in typed:
        measured["found_thickness_spread"] = job.spread_mm(
            "found_thickness", usual_if_none(treatment)
        )
    return measured


def _filled(typed: Typed, measured: Mapping[str, object]) -> dict[str, Any]:
    """Return fields of ``SizingInputs`` by name; of one made of parts, these by name."""
    for name in typed.keys() - {row.name for row in BARREL_OPTIONS}:
        raise InputError(
            f"A barrel has no option {name!r}.",
            hint=f"Its options are: {', '.join(row.name for row in BARREL_OPTIONS)}.",
        )
    fields: dict[str, Any] = {}
    for row in BARREL_OPTIONS:
        word = typed.get(row.name)
        value = measured.get(row.name) if word in (None, False) else row.value(word)
        if value is None:
            continue
        field, _, part = (row.fills or row.name).partition(".")
        if part:
            fields.setdefault(field, {})[part] = value
        else:
            fields[field] = value
    return fields


def _found(parts: Mapping[str, Quantity]) -> GivenSpring | None:
    return given_spring("found", {f"found_{size}": quantity for size, quantity in parts.items()})


def _seen(parts: Mapping[str, Any]) -> FoundSeen:
    return FoundSeen(**parts)


def _arrangement(parts: Mapping[str, Any]) -> Arrangement:
    """A slipping bridle tells how the watch is wound when nobody says so."""
    made = Arrangement(**parts)
    slips = made.end is not None and made.end.slips
    return replace(made, winding=Winding.AUTOMATIC) if slips and "winding" not in parts else made


def _fusee(parts: Mapping[str, Any]) -> GivenFusee:
    if not {"cone", "barrel_outside"} <= parts.keys():
        raise InputError(
            "The torque at a fusee needs both its cone and its barrel.",
            hint='Give --fusee "SMALL LARGE TURNS" and --barrel-outside.',
        )
    return GivenFusee(**parts)


def _amplitude(parts: Mapping[str, Any]) -> MeasuredAmplitude | None:
    """How the watch lay and was wound says nothing without an amplitude."""
    return MeasuredAmplitude(**parts) if "amplitude_deg" in parts else None


_MADE_OF_PARTS = {
    "found": _found,
    "seen": _seen,
    "arrangement": _arrangement,
    "amplitude": _amplitude,
    "fusee": _fusee,
}
