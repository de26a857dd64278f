"""What a person says of a job: read, kept, and for a chosen spring joined with its ranking.

Figures are typed as ``name=value`` words, checked one by one::

    --after  "crown_turns=28 hours=41 amplitude=265@dial-up,wound amplitude=240@24h noise=none"
    --chosen "A17 size=1.20x0.12x345 cut_from=380 end=hole hours=38..44"
    --train  "90/12 hours_per_turn=7.5"

A value ends where the next ``name=`` begins, so a noise may be several words. What is
before the first name is the item, or the teeth of the train.
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path

from gaugelink.cli.output import emit, emit_json, say
from gaugelink.errors import InputError
from gaugelink.jobbook.facts import (
    After,
    Amplitude,
    ChoiceVersion,
    Chosen,
    Fact,
    FactBook,
    ForeseenSpan,
    JobReference,
    Lay,
    Movement,
    Particulars,
    Photograph,
    Remark,
    StoredFact,
    TrainData,
    WindState,
    chosen_from,
)
from gaugelink.jobbook.predictions import compare, fittings, judge
from gaugelink.mechanics.materials import end_named
from gaugelink.mechanics.train import train_from_text
from gaugelink.quantities import parse_spring
from gaugelink.report.json_records import predictions_json
from gaugelink.report.text_job import predictions_text
from gaugelink.sizing.covered import check_hours

_WORD = re.compile(r"(?:^|\s)(?P<name>[a-z_]+)=")
_AFTER = ("crown_turns", "hours", "amplitude", "noise")
_CHOSEN = ("size", "cut_from", "end", "turns", "crown_turns", "hours", "torque_ratio", "amplitude")
_MOST = {"crown_turns": 200.0, "hours": 1000.0, "amplitude": 360.0}  # beyond: a slip of the hand


@dataclass(frozen=True, slots=True, kw_only=True)
class FactOptions:
    """What was typed of a job; empty where nothing was."""

    movement: str | None = None
    reference: str | None = None
    workshop: str | None = None
    customer: str | None = None
    by: str | None = None
    temperature: str | None = None
    train: str | None = None
    photographs: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    chosen: str | None = None
    after: str | None = None

    @property
    def is_empty(self) -> bool:
        """Whether nothing was typed."""
        return self == FactOptions()


def keep(job_id: int, options: FactOptions, journal: Path | None) -> None:
    """Keep what was typed with a job: all of it, or nothing.

    Raises:
        InputError: something that cannot be used.
        SizingError: a train that contradicts itself.
        JournalError: there is no such job, or it cannot be kept.
    """
    facts = [*_facts(options)]
    with FactBook(journal) as book:
        if options.chosen is not None:
            facts.append(_foreseen(book, job_id, parse_chosen(options.chosen)))
        if options.after is not None:  # last, so that it belongs to a spring chosen with it
            facts.append(parse_after(options.after))
        book.add(job_id, *facts)
    say(f"Recorded with job {job_id}.")


def lost_photographs(facts: Sequence[StoredFact]) -> frozenset[str]:
    """Return the paths of photographs that are not there now."""
    paths = (stored.fact.path for stored in facts if isinstance(stored.fact, Photograph))
    return frozenset(path for path in paths if not os.path.exists(path))


def show_predictions(journal: Path | None, *, as_json: bool) -> None:
    """Show how good the predictions were over all jobs."""
    with FactBook(journal, to_read=True) as book:
        stored = book.of_kind(Chosen, After)
    compared = [each for fitting in fittings(stored) for each in compare(fitting)]
    predictions = judge(compared)
    if as_json:
        emit_json(predictions_json(predictions, compared))
    else:
        emit(predictions_text(predictions))


def _facts(options: FactOptions) -> Iterator[Fact]:
    if options.movement is not None:
        yield Movement(text=_said(options.movement, "--movement"))
    if options.reference is not None:
        yield JobReference(text=_said(options.reference, "--reference"))
    head = Particulars(
        workshop=_said_or_none(options.workshop, "--workshop"),
        customer=_said_or_none(options.customer, "--customer"),
        by=_said_or_none(options.by, "--by"),
        temperature_c=None if options.temperature is None else _celsius(options.temperature),
    )
    if head != Particulars():
        yield head
    if options.train is not None:
        yield parse_train(options.train)
    for path in options.photographs:
        yield Photograph(path=_photograph(path))
    for text in options.notes:
        yield Remark(text=_said(text, "--note"))


def _said(text: str, option: str) -> str:
    if not text.strip():
        raise InputError(f"{option} is empty.", hint=f'Type it like: {option} "some words".')
    return text.strip()


def _said_or_none(text: str | None, option: str) -> str | None:
    return None if text is None else _said(text, option)


def _celsius(text: str) -> float:
    """A room in which somebody works, 0 to 50 C; beyond lies a slip of the hand."""
    figure = re.fullmatch(r"\s*(-?\d+(?:[.,]\d+)?)\s*°?\s*[Cc]?\s*", text)
    celsius = float(figure[1].replace(",", ".")) if figure else math.nan
    if not 0 <= celsius <= 50:
        raise InputError(
            f"--temperature: {text!r} is not a temperature from 0 to 50 °C.",
            hint="Type it in degrees Celsius, like: --temperature 20.5",
        )
    return celsius


def _photograph(path: str) -> str:
    """Return the full path: what is kept must be found from any folder."""
    full = os.path.abspath(os.path.expanduser(_said(path, "--photo")))
    if not os.path.exists(full):
        say(f"No file at {full} yet; the path is recorded anyway.")
    return full


def _foreseen(book: FactBook, job_id: int, chosen: Chosen) -> Chosen:
    """Fill in what the latest ranking foresaw of the spring; what was typed wins."""
    ranking = book.latest(job_id, ChoiceVersion)
    foreseen = chosen_from(ranking, chosen.item) if ranking else None
    if foreseen is None:
        if chosen == Chosen(item=chosen.item):  # perhaps a slip of the hand in its name
            say(
                f"{chosen.item} is not in a ranking of job {job_id}: nothing is recorded of what "
                "to expect of it."
            )
        return chosen
    typed = {
        field.name: value
        for field in fields(chosen)
        if (value := getattr(chosen, field.name)) is not None
    }
    return replace(foreseen, **typed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """One ``name=value``."""

    name: str
    value: str


def parse_after(text: str) -> After:
    """Read what was seen after fitting.

    Raises:
        InputError: a name that is unknown, or a value that cannot be.
    """
    rest, pairs = pairs_in(text, "--after", _AFTER)
    if rest or not pairs:
        raise _unreadable("--after", rest or text, _AFTER)
    return After(
        crown_turns=_only(pairs, "crown_turns"),
        hours_run=_only(pairs, "hours"),
        amplitudes=tuple(_amplitude(each.value) for each in _all(pairs, "amplitude")),
        noise=next((each.value for each in _all(pairs, "noise")), None),
    )


def parse_chosen(text: str) -> Chosen:
    """Read which spring was taken, and what was expected of it.

    Raises:
        InputError: no item, a name that is unknown, or a value that cannot be.
    """
    item, pairs = pairs_in(text, "--chosen", _CHOSEN)
    if not item:
        raise InputError(
            f"--chosen: {text!r} does not name a spring.",
            hint='Begin with the item, such as: --chosen "A17 size=1.20x0.12x380".',
        )
    spans = {each.name: each.value for each in pairs}
    height, thickness, length = _size(spans.get("size"))
    span, position, wind = _amplitude_span(spans.get("amplitude"))
    return Chosen(
        item=item,
        height_mm=height,
        thickness_mm=thickness,
        length_mm=length,
        turns=_span(spans.get("turns"), "turns"),
        crown_turns=_span(spans.get("crown_turns"), "crown_turns"),
        hours=_span(spans.get("hours"), "hours"),
        torque_ratio=_span(spans.get("torque_ratio"), "torque_ratio"),
        amplitude_deg=span,
        position=position,
        wind=wind,
        end=end_named(spans["end"]).name if "end" in spans else None,
        cut_from_mm=_only(pairs, "cut_from"),
    )


def parse_train(text: str) -> TrainData:
    """Read the train: its teeth, the hours a turn of the barrel lasts, or both.

    Raises:
        InputError: a name that is unknown, or a value that cannot be.
        SizingError: the teeth give other hours.
    """
    teeth, pairs = pairs_in(text, "--train", ("hours_per_turn",))
    if teeth and not re.fullmatch(r"\d+/\d+(?: \d+/\d+)*", teeth):
        raise InputError(
            f"--train: {teeth!r} is not a train of wheels and pinions.",
            hint='Type teeth from the barrel on: --train "90/12 hours_per_turn=7.5".',
        )
    if not teeth and not pairs:
        raise _unreadable("--train", text, ("hours_per_turn",))
    train, hours = train_from_text(teeth) if teeth else None, _only(pairs, "hours_per_turn")
    if train is not None and hours is not None:
        check_hours(train, hours)
    return TrainData(teeth=teeth or None, hours_per_turn=hours)


def pairs_in(text: str, option: str, names: Sequence[str]) -> tuple[str, tuple[Pair, ...]]:
    """Split a text into what comes first and its ``name=value`` words.

    Args:
        text: what was typed.
        option: after which option, for the error message.
        names: those that are known.

    Raises:
        InputError: a name that is unknown, without a value, or given twice.
    """
    found = list(_WORD.finditer(text))
    if not found:
        return text.strip(), ()
    ends = [match.start() for match in found[1:]] + [len(text)]
    pairs = tuple(
        Pair(name=match["name"], value=text[match.end() : end].strip())
        for match, end in zip(found, ends, strict=True)
    )
    for pair in pairs:
        if pair.name not in names or not pair.value:
            raise _unreadable(option, f"{pair.name}={pair.value}", names)
    _refuse_twice(option, [pair.name for pair in pairs])
    return text[: found[0].start()].strip(), pairs


def _refuse_twice(option: str, names: Sequence[str]) -> None:
    for name in names:
        if names.count(name) > 1 and not (option == "--after" and name == "amplitude"):
            raise InputError(f"{option}: {name} is given twice.", hint="Give each figure once.")


def _all(pairs: Iterable[Pair], name: str) -> list[Pair]:
    return [pair for pair in pairs if pair.name == name]


def _only(pairs: Iterable[Pair], name: str) -> float | None:
    found = _all(pairs, name)
    return _figure(found[0].value, name) if found else None


def _figure(text: str, name: str) -> float:
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = math.nan
    most = _MOST.get(name, math.inf)
    if not 0 < number <= most or math.isinf(number):
        upto = "" if math.isinf(most) else f" and up to {most:g}"
        raise InputError(
            f"{name}: {text!r} is not a number above zero{upto}.",
            hint=f"Type it like {name}={'265@dial-up,wound' if name == 'amplitude' else '28'}.",
        )
    return number


def _amplitude(text: str) -> Amplitude:
    figure, _, lay = text.partition("@")
    position, wind = _lay(lay)
    return Amplitude(deg=_figure(figure, "amplitude"), position=position, wind=wind)


def _amplitude_span(text: str | None) -> tuple[ForeseenSpan | None, Lay | None, WindState | None]:
    figure, _, lay = (text or "").partition("@")
    return (_span(figure or None, "amplitude"), *_lay(lay))


def _lay(text: str) -> tuple[Lay | None, WindState | None]:
    position: Lay | None = None
    wind: WindState | None = None
    for word in filter(None, re.split(r"[,\s]+", text.strip().lower())):
        if word in tuple(Lay) and position is None:
            position = Lay(word)
        elif word in tuple(WindState) and wind is None:
            wind = WindState(word)
        else:
            raise InputError(
                f"amplitude: {word!r} is neither a position nor a state of wind, or comes twice.",
                hint=f"Say one of {', '.join(Lay)}, and {' or '.join(WindState)}.",
            )
    return position, wind


def _span(text: str | None, name: str) -> ForeseenSpan | None:
    if text is None:
        return None
    low, dots, high = text.partition("..")
    span = ForeseenSpan(low=_figure(low, name), high=_figure(high if dots else low, name))
    if span.low > span.high:
        raise InputError(
            f"{name}: {text!r} runs from high to low.", hint=f"Type it like {name}=38..44."
        )
    return span


def _size(text: str | None) -> tuple[float | None, float | None, float | None]:
    if text is None:
        return None, None, None
    height, thickness, length = parse_spring(text, "size")
    return height.value_mm, thickness.value_mm, length.value_mm


def _unreadable(option: str, text: str, names: Iterable[str]) -> InputError:
    return InputError(
        f"{option}: {text!r} is not understood.",
        hint=f"Type name=value words with the names {', '.join(names)}.",
    )
