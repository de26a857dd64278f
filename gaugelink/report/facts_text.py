"""What is known of a job besides its readings, as text: what it is, what was fitted, how it did."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import Any, TypeVar

from gaugelink.jobbook.facts import (
    After,
    Amplitude,
    ChoiceVersion,
    Chosen,
    Fact,
    Movement,
    Note,
    Photograph,
    Reference,
    SizeVersion,
    Span,
    StoredFact,
    TrainData,
    seen_after,
)
from gaugelink.jobbook.predictions import Compared, compare, fittings
from gaugelink.report.numbers import decimals_for
from gaugelink.report.table import table, wrapped

_UNITS = {"hours": " h", "amplitude": "°", "crown turns": ""}
_RULE = "half-area"  # the rule by which versions are told apart in a line
_Kind = TypeVar("_Kind")


def facts_text(facts: Sequence[StoredFact], lost_photographs: Collection[str] = ()) -> str:
    """Render what is known of a job; empty when there is nothing.

    Args:
        facts: of one job, in the order they were added.
        lost_photographs: paths at which there is no file now.
    """
    sections = [_what_it_is(facts, lost_photographs), _versions(facts), _fitted(facts)]
    return "".join(f"\n{section}\n" for section in sections if section)


def ends_text(span: Span) -> str:
    """Write both ends no finer than the span is wide; what was typed in round figures stays."""
    if span.low == span.high:
        return f"{span.low:.4g}"
    places = decimals_for((span.high - span.low) / 4)
    return f"{round(span.low, places):g} to {round(span.high, places):g}"


def _what_it_is(facts: Sequence[StoredFact], lost: Collection[str]) -> str:
    lines = []
    if movement := _last(facts, Movement):
        lines.append(wrapped(movement.text, lead="  movement: "))
    if reference := _last(facts, Reference):
        lines.append(wrapped(reference.text, lead="  reference: "))
    if train := _last(facts, TrainData):
        lines.append(f"  train: {_train(train)}")
    for stored in facts:
        if isinstance(stored.fact, Photograph):
            missing = "  (not there now)" if stored.fact.path in lost else ""
            lines.append(f"  photograph: {stored.fact.path}{missing}")
        elif isinstance(stored.fact, Note):
            lines.append(wrapped(stored.fact.text, lead=f"  note, {_day(stored)}: "))
    return "\n".join(["ABOUT IT", *lines]) if lines else ""


def _versions(facts: Sequence[StoredFact]) -> str:
    lines = [*_results(facts, SizeVersion, "size", _size_line)]
    lines += _results(facts, ChoiceVersion, "choice", _choice_line)
    return "\n".join(["RESULTS SO FAR", *lines]) if lines else ""


def _results(facts: Sequence[StoredFact], kind: type, name: str, line: Any) -> Iterator[str]:
    versions = [stored for stored in facts if isinstance(stored.fact, kind)]
    for number, stored in enumerate(versions, start=1):
        fact = stored.fact
        assert isinstance(fact, SizeVersion | ChoiceVersion)
        lead = f"  {name} {number}, {_day(stored)}, gaugelink {fact.software}: "
        yield wrapped(line(fact.result), lead=lead)


def _fitted(facts: Sequence[StoredFact]) -> str:
    lines = []
    if chosen := _last(facts, Chosen):
        lines += [wrapped(_chosen(chosen), lead="  spring: ")]
    found = fittings(facts)
    after = found[-1].after if found else seen_after(_all(facts, After))
    if after is not None:
        lines += [wrapped(_seen(after), lead="  seen after: ")]
    if found and (compared := compare(found[-1])):
        lines.append(table(("", "foreseen", "seen", "ratio", ""), [_row(c) for c in compared]))
    return "\n".join(["FITTED", *lines]) if lines else ""


def _row(compared: Compared) -> tuple[str, ...]:
    unit = _UNITS[compared.name]
    verdict = "as foreseen" if compared.is_inside else "outside"
    return (
        compared.name,
        f"{ends_text(compared.foreseen)}{unit}",
        f"{compared.seen:g}{unit}",
        f"{compared.ratio:.2f}",
        verdict,
    )


def _train(train: TrainData) -> str:
    hours = f"{train.hours_per_turn:g} h a turn of the barrel" if train.hours_per_turn else ""
    return ", ".join(filter(None, (train.teeth, hours)))


def _chosen(chosen: Chosen) -> str:
    sizes = (chosen.height_mm, chosen.thickness_mm, chosen.length_mm)
    size = " x ".join("?" if mm is None else f"{mm:g}" for mm in sizes) + " mm"
    foreseen = (
        _foreseen("turns", chosen.turns),
        _foreseen("hours", chosen.hours),
        _foreseen("crown turns", chosen.crown_turns),
        _foreseen("torque ratio", chosen.torque_ratio),
        _foreseen("amplitude", chosen.amplitude_deg, "°" + _lay(chosen)),
    )
    words = [chosen.item if sizes == (None, None, None) else f"{chosen.item}, {size}"]
    return "; ".join([*words, *filter(None, foreseen)])


def _foreseen(name: str, span: Span | None, unit: str = "") -> str:
    return f"{name} {ends_text(span)}{unit} foreseen" if span else ""


def _seen(after: After) -> str:
    parts = (
        f"{after.crown_turns:g} turns of the crown" if after.crown_turns is not None else "",
        f"{after.hours_run:g} h run" if after.hours_run is not None else "",
        *(f"{a.deg:g}°{_lay(a)}" for a in after.amplitudes),
        f"noise: {after.noise}" if after.noise is not None else "",
    )
    return "; ".join(filter(None, parts))


def _lay(read: Amplitude | Chosen) -> str:
    words = (read.position, read.wind)
    return "".join(f" {word}" for word in words if word is not None)


def _size_line(result: Any) -> str:
    words = [f"height {_value(result.get('height'), 2)} mm"]
    rules = {rule.get("rule"): rule for rule in result.get("rules", ())}
    if rule := rules.get(_RULE):
        thickness, length = _value(rule.get("thickness"), 3), _value(rule.get("length"), 0)
        words.append(f"{_RULE}: thickness {thickness} mm, length {length} mm")
    return "; ".join(words)


def _choice_line(result: Any) -> str:
    picks = [str(pick.get("item")) for pick in result.get("picks", ())]
    return f"first {', then '.join(picks[:3])}" if picks else "nothing fits"


def _value(estimate: Any, decimals: int) -> str:
    value = estimate.get("value") if isinstance(estimate, dict) else None
    return f"{value:.{decimals}f}" if isinstance(value, int | float) else "-"


def _all(facts: Sequence[StoredFact], kind: type[_Kind]) -> list[_Kind]:
    found: list[Fact] = [stored.fact for stored in facts]
    return [fact for fact in found if isinstance(fact, kind)]


def _last(facts: Sequence[StoredFact], kind: type[_Kind]) -> _Kind | None:
    return next(reversed(_all(facts, kind)), None)


def _day(stored: StoredFact) -> str:
    return stored.written_utc[:10]
