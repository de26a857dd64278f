"""The recommendation in a sentence with its grounds, what to look at first, what to check after."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.choosing.choice import Pick
from gaugelink.drawing.rules_plot import RowKind
from gaugelink.jobbook.facts import After, Chosen, ForeseenSpan, WindState
from gaugelink.mechanics.motion import POWER_SAYING
from gaugelink.recommending.recommend import Taken
from gaugelink.report.page_content import (
    PageContent,
    PageSpring,
    Sizing,
    page_spring,
    picked_spring,
)
from gaugelink.report.table import ends, span
from gaugelink.report.text_job import ends_text, seen_of_last
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
    """What to do in a sentence, in further ones how sure that is, and the sizes to look for."""

    sentence: str
    grounds: tuple[str, ...] = ()
    dials: tuple[Dial, ...] = ()


def page_answer(content: PageContent) -> PageAnswer:
    """Return the one answer as the page shows it, or why there is none."""
    answer = content.recommendation
    if answer is None:
        return PageAnswer(sentence=f"No size can be given: {content.missing or _TOO_LITTLE}")
    if answer.order is None:
        stops = (f"{stop.text} {stop.settle}" for stop in answer.left[1:])
        return PageAnswer(sentence=answer.text, grounds=tuple(stops))
    lines = [answer.order_line + "."] if answer.take is not None else []
    lines.append(f"{will_do(answer.order)}. {end_and_material(answer.order)}")
    lines.append(f"It rests on {answer.rests_on}")
    lines.append(" ".join(does(answer)))
    return PageAnswer(
        sentence=f"{answer.text}.",
        grounds=tuple(lines),
        dials=tuple(_dials(answer.order, answer.take)),
    )


def _dials(order: Order, take: Taken | None) -> Iterator[Dial]:
    if take is not None:
        length_mm = take.length_mm if take.cut_to_mm is None else take.cut_to_mm
        sizes = (take.height_mm, take.thickness_mm, length_mm)
        for name, size in zip(("height", "thickness", "length"), sizes, strict=True):
            yield Dial(name=name, numeral=f"{size:g}")
        return
    if order.height is not None:
        yield Dial(name="height", numeral=f"{order.height.target:.2f}")
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
    result, choice, answer = content.result, content.choice, content.recommendation
    if answer is not None:
        yield from ((f"check-{at}", text) for at, text in enumerate(answer.check))
    if result is None:
        yield from ((doubt.code, doubt.text) for doubt in content.findings.doubts)
    else:
        yield from ((each.code, each.text) for each in result.warnings)
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

    What was foreseen when a spring was chosen stands, whatever is foreseen now.
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
        return f"Foreseen for {chosen.item}, the spring that was taken."
    if spring is None:
        return ""
    the = "" if spring.kind is RowKind.PICKED else "the "
    return f"Foreseen for {the}{spring.name}."


def _checked(content: PageContent) -> PageSpring | None:
    """The spring that was taken, as far as the choice knows it; the recommended one before."""
    chosen = content.last(Chosen)
    return page_spring(content) if chosen is None else picked_spring(content, chosen.item)


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
    """What was foreseen when the spring was chosen, else what is foreseen now."""
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
    if own_mm is None and spring is not None and spring.height and spring.has_own_height:
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
