"""The recommendation in a sentence with its grounds, what to look at first, what to check after."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from gaugelink.choosing.choice import Pick
from gaugelink.jobbook.facts import (
    After,
    ChoiceVersion,
    Chosen,
    ForeseenSpan,
    SizeVersion,
    StoredFact,
    WindState,
)
from gaugelink.mechanics.motion import POWER_SAYING
from gaugelink.recommending.recommend import StockPick, said_by_stops
from gaugelink.report.page_content import (
    PageContent,
    PageSpring,
    Sizing,
    fitted_spring,
    page_spring,
)
from gaugelink.report.table import BEFORE_CUTTING, ends, span
from gaugelink.report.text_job import chosen_size, ends_text, seen_of_last
from gaugelink.report.text_order import does, end_and_material, will_do
from gaugelink.sizing.order import Order
from gaugelink.sizing.results import TorqueModel

_TOO_LITTLE = "too little was measured."


@dataclass(frozen=True, slots=True, kw_only=True)
class Dial:
    """A size to look for, in mm, as it is read from afar, with its interval or limit."""

    name: str
    numeral: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PageAnswer:
    """What to do in a sentence, in further ones how sure that is, and the sizes to look for.

    Once a spring was fitted it says that, and what was recommended then.
    """

    sentence: str
    heading: str = "Recommendation"
    grounds: tuple[str, ...] = ()
    dials: tuple[Dial, ...] = ()


def page_answer(content: PageContent) -> PageAnswer:
    """Return what was fitted, before that the one answer, or why there is none."""
    fitted = [stored for stored in content.facts if isinstance(stored.fact, Chosen)]
    return _recommended(content) if not fitted else _record(content, fitted[-1])


def _record(content: PageContent, stored: StoredFact) -> PageAnswer:
    """What was fitted and when, what was recommended then, and what would be now if it differs."""
    chosen = stored.fact
    assert isinstance(chosen, Chosen)
    then, now = _before(content.facts, stored.number), _recommended(content)
    lines = [] if then is None else [*_then(then)]
    if then is None or now.sentence != _sentence(_told(then).get("text", "")):
        lines.append(f"{'Now' if then else 'Recommended now'}: {now.sentence}")
    sizes = (chosen.height_mm, chosen.thickness_mm, chosen.length_mm)
    named = zip(("height", "thickness", "length"), sizes, strict=True)
    return PageAnswer(
        sentence=f"Fitted: {chosen_size(chosen)}, {stored.written_utc[:10]}.",
        heading="Fitted",
        grounds=tuple(lines),
        dials=tuple(Dial(name=name, numeral=f"{mm:g}") for name, mm in named if mm is not None),
    )


def _before(facts: Sequence[StoredFact], number: int) -> StoredFact | None:
    """The result that was shown last before a spring was taken, where it held an answer."""
    shown = (
        stored
        for stored in reversed(facts)
        if stored.number < number and isinstance(stored.fact, SizeVersion | ChoiceVersion)
    )
    last = next(shown, None)
    return last if last is not None and _told(last).get("text") else None


def _told(stored: StoredFact) -> Mapping[str, Any]:
    """The answer that a kept result holds; older ones hold none."""
    assert isinstance(stored.fact, SizeVersion | ChoiceVersion)
    told = stored.fact.result.get("recommendation")
    return told if isinstance(told, Mapping) else {}


def _then(stored: StoredFact) -> Iterator[str]:
    """What was recommended on the day, by what was known on it."""
    told = _told(stored)
    yield f"Recommended {stored.written_utc[:10]}: {_sentence(told['text'])}"
    order = told.get("order")
    if told.get("take") and order:
        sizes = (order.get("height"), order.get("thickness"), order.get("length"))
        size = " x ".join("?" if mm is None else f"{mm:g}" for mm in sizes)
        yield f"The size to order was {size} mm."
    if told.get("rests_on"):
        yield f"Based on {told['rests_on']}"


def _sentence(text: str) -> str:
    return text if not text or text.endswith(".") else f"{text}."


def _recommended(content: PageContent) -> PageAnswer:
    answer = content.recommendation
    if answer is None:
        return PageAnswer(sentence=f"No size can be given: {content.missing or _TOO_LITTLE}")
    if answer.order is None:
        stops = (f"{stop.text} {stop.settle}" for stop in answer.left[1:])
        return PageAnswer(sentence=answer.text, grounds=tuple(stops))
    lines = []
    if answer.take is not None:
        lines = [
            answer.sure,
            f"In its place: {answer.order_line[:1].lower()}{answer.order_line[1:]}.",
            *([] if answer.take.cut_to_mm is None else [BEFORE_CUTTING]),
        ]
    ranges = f"{will_do(answer.order)} (common practice and judgement)"
    lines.append(f"{ranges}. {end_and_material(answer.order)}")
    lines.append(f"Based on {answer.rests_on}")
    if answer.take is None:
        lines.append(" ".join(does(answer)))
    return PageAnswer(
        sentence=_sentence(answer.text),
        grounds=tuple(lines),
        dials=tuple(_dials(answer.order, answer.take)),
    )


def _dials(order: Order, take: StockPick | None) -> Iterator[Dial]:
    if take is not None:
        length_mm = take.length_mm if take.cut_to_mm is None else take.cut_to_mm
        sizes = (take.height_mm, take.thickness_mm, length_mm)
        for name, size in zip(("height", "thickness", "length"), sizes, strict=True):
            yield Dial(name=name, numeral=f"{size:g}")
        return
    if order.height is not None:
        name = "height, below" if order.height_is_cap else "height"
        yield Dial(name=name, numeral=f"{order.height.target:.2f}")
    yield Dial(name="thickness", numeral=f"{order.thickness.target:g}")
    yield Dial(name="length", numeral=f"{order.length.target:.0f}")


def first_the_movement(content: PageContent) -> tuple[str, ...]:
    """Return what a measured amplitude calls for before any spring; empty without one."""
    motion = content.result.motion if content.result else None
    if motion is None:
        return ()
    return (*(each.text for each in motion.advice), POWER_SAYING)


def page_doubts(content: PageContent) -> tuple[str, ...]:
    """Return what to look at: every doubt once, whoever raised it."""
    said = set(first_the_movement(content))
    texts: dict[str, str] = {}
    for code, text in _doubts(content):
        if text not in said:
            texts.setdefault(code, text)
            said.add(text)
    return tuple(texts.values())


def _doubts(content: PageContent) -> Iterator[tuple[str, str]]:
    """Doubts of what was measured stay; those of what to take are gone once a spring was fitted."""
    result, choice, answer = content.result, content.choice, content.recommendation
    if content.last(Chosen) is not None:
        choice = answer = None
    said: set[str] = set()
    if answer is not None:
        said = said_by_stops(answer)
        yield from ((f"check-{at}", text) for at, text in enumerate(answer.check))
    if result is None:
        yield from ((doubt.code, doubt.text) for doubt in content.findings.doubts)
    else:
        yield from ((each.code, each.text) for each in result.warnings if each.code not in said)
        yield from ((no.asked, f"{no.asked}: {no.reason} {no.hint}") for no in result.refused)
    if choice is not None:
        yield from ((each.code, each.text) for each in choice.warnings)
        for pick in choice.picks[:1]:
            yield from ((each.code, each.text) for each in pick.warnings)
    if content.missing and result is not None:
        yield "missing", content.missing


_NOT_FORESEEN = "write it down"


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One thing to look at; ``seen`` is empty until it was looked at and written down."""

    what: str
    foreseen: str
    seen: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checks:
    """The checks of one stage of the work."""

    when: str
    checks: tuple[Check, ...]


def after_fitting(content: PageContent) -> tuple[Checks, ...]:
    """Return what to look at, in the order of the work; nothing while there is no spring.

    What was expected when a spring was chosen stays, whatever is expected now.
    """
    spring, chosen, after = _checked(content), content.last(Chosen), seen_of_last(content.facts)
    if spring is None and chosen is None and after is None:
        return ()
    chosen, after = chosen or Chosen(item=""), after or After()
    closed = (
        Check(what="Spring below the lid", foreseen=_play(content.sizing, spring, chosen)),
        Check(what="Lid snaps home all round", foreseen="flush, no bulge"),
        Check(what="Arbor free, end shake", foreseen="felt"),
    )
    stops = content.sizing is not None and content.sizing.inputs.arrangement.stopwork is not None
    running = tuple(_in_the_watch(spring, chosen, after, stops=stops))
    return Checks(when="Barrel closed", checks=closed), Checks(when="In the watch", checks=running)


def foreseen_for(content: PageContent) -> str:
    """Say of which spring the checks foresee something; empty while there is none."""
    chosen, spring = content.last(Chosen), _checked(content)
    if chosen is not None:
        return f"Expected of {chosen.item}, the spring fitted."
    if spring is None:
        return ""
    the = "" if spring.figures is None else "the "
    return f"Expected of {the}{spring.name}."


def _checked(content: PageContent) -> PageSpring | None:
    """The spring that was fitted, as far as its size is known; the recommended one before."""
    fitted = content.last(Chosen) is not None
    return fitted_spring(content) if fitted else page_spring(content)


def _in_the_watch(
    spring: PageSpring | None, chosen: Chosen, after: After, *, stops: bool
) -> Iterator[Check]:
    pick, figures = (spring.pick, spring.figures) if spring else (None, None)
    model = figures.torque_model if figures else None
    turns = pick.turns_usable if pick else model.turns_usable if model else None
    hours = pick.hours_to_stop if pick else model.hours_to_stop if model else None
    kept = model.torque_kept if model else None
    yield Check(
        what="Barrel turns, rest to full", foreseen=_foreseen(chosen.turns, span(turns, " to ", ""))
    )
    crown = span(model.crown_turns if model else None, " to ", "")
    yield Check(
        what=f"Crown turns, {'between the stops' if stops else 'rest to full'}",
        foreseen=_foreseen(chosen.crown_turns, crown),
        seen=_number(after.crown_turns),
    )
    yield Check(
        what="Amplitude at full wind",
        foreseen=_foreseen(chosen.amplitude_deg, _swing(pick, model), "°"),
        seen=_amplitudes_seen(after, later=False),
    )
    yield Check(what="Sound at full wind", foreseen="no knocking", seen=after.noise or "")
    lasting = "" if hours is None else f"{span(hours, ' to ')} h"
    yield Check(
        what="Hours it runs",
        foreseen=_foreseen(chosen.hours, lasting, " h"),
        seen=_number(after.hours_run, " h"),
    )
    left = "" if kept is None else f"{ends(100 * kept.low, 100 * kept.high, 0, ' to ')} %"
    yield Check(
        what="Amplitude after 24 h",
        foreseen=_foreseen(None, left and f"{left} of the torque"),
        seen=_amplitudes_seen(after, later=True),
    )


def _foreseen(kept: ForeseenSpan | None, now: str, unit: str = "") -> str:
    """What was expected when the spring was chosen, else what is expected now."""
    return f"{ends_text(kept)}{unit}" if kept is not None else now or _NOT_FORESEEN


def _swing(pick: Pick | None, model: TorqueModel | None) -> str:
    if pick is not None and pick.amplitude_deg is not None:
        return f"{ends(pick.amplitude_deg.low, pick.amplitude_deg.high, 0, ' to ')}°"
    swing = model.foreseen if model else None
    return "" if swing is None else f"{ends(swing.low_deg, swing.high_deg, 0, ' to ')}°"


def _play(sizing: Sizing | None, spring: PageSpring | None, chosen: Chosen) -> str:
    height = None if sizing is None else sizing.result.height
    if sizing is None or height is None:
        return "some play above it"
    own_mm = chosen.height_mm
    if own_mm is None and spring is not None and spring.height is not None:
        own_mm = spring.height.value_mm
    if own_mm is None:
        return f"at least {sizing.inputs.clearance.value:.2f} mm of play"
    play_mm = height.value + sizing.inputs.clearance.value - own_mm
    return f"{play_mm:.2f} mm of play" if play_mm > 0 else f"{-play_mm:.2f} mm too high"


def _number(value: float | None, unit: str = "") -> str:
    return "" if value is None else f"{value:g}{unit}"


def _amplitudes_seen(after: After, *, later: bool) -> str:
    return ", ".join(
        f"{each.deg:g}°{'' if each.position is None else f' {each.position}'}"
        for each in after.amplitudes
        if (each.wind is WindState.AFTER_24_H) is later
    )
