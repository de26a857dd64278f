"""The recommendation in a sentence with its grounds, what to look at first, what to check after."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.choosing.choice import Choice, Pick, percent
from gaugelink.choosing.refusals import LEAST_PROBABILITY
from gaugelink.drawing.dimension import Dimension
from gaugelink.drawing.rules_plot import RowKind
from gaugelink.jobbook.facts import After, Chosen, ForeseenSpan, WindState
from gaugelink.mechanics.motion import POWER_SAYING
from gaugelink.report.page_content import (
    PageContent,
    PageSpring,
    Sizing,
    page_spring,
    picked_spring,
)
from gaugelink.report.table import ends, plus_minus, span
from gaugelink.report.text_choice import SURE, ranges_of
from gaugelink.report.text_choice import answer as choice_answer
from gaugelink.report.text_job import ends_text, seen_of_last
from gaugelink.report.text_size import new_spring_gives
from gaugelink.sizing.results import SizeResult, TorqueModel
from gaugelink.uncertainty.conformity import probability_above
from gaugelink.uncertainty.estimate import Estimate

# Watches with a thickness of bore / 100 to bore / 80 run well: common practice.
_USUAL_BORES = (100.0, 80.0)
_MOST_BETTER = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Dial:
    """A size to look for, in mm, as it is read from afar, with its interval or limit."""

    name: str
    numeral: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recommendation:
    """What to do in a sentence, in further ones how sure that is, and the sizes to look for."""

    sentence: str
    grounds: tuple[str, ...] = ()
    dials: tuple[Dial, ...] = ()


def page_answer(content: PageContent) -> Recommendation:
    """Return the recommendation: from the stock, a document, a rule, or why there is none."""
    choice, result, spring = content.choice, content.result, page_spring(content)
    if choice is not None:
        dials = tuple(_dials(spring, None)) if choice.picks and spring else _order_dials(choice)
        return Recommendation(
            sentence=choice_answer(choice), grounds=tuple(_of_choice(choice)), dials=dials
        )
    if result is None or spring is None or spring.kind is RowKind.FOUND:
        why = _why_none(content)
        return Recommendation(sentence=f"No size can be given: {why[:1].lower()}{why[1:]}")
    dials = tuple(_dials(spring, result.height))
    if spring.kind is RowKind.DOCUMENTED:
        return Recommendation(
            sentence=_of_document(spring, result.height),
            grounds=tuple(_beside_document(result)),
            dials=dials,
        )
    return Recommendation(
        sentence=_by_rule(spring, result.height), grounds=tuple(_beside_rule(result)), dials=dials
    )


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


def _why_none(content: PageContent) -> str:
    refused = content.result.refused if content.result else ()
    if refused:
        return f"{refused[0].reason} {refused[0].hint}"
    return content.missing or "Too little was measured."


def _of_choice(choice: Choice) -> Iterator[str]:
    decision, beside = choice.decision, f"Compared with {choice.reference.text}."
    if decision is None:
        told = (
            f"{name} {ends(size.low, size.high, places, ' to ')} mm"
            for name, size, places in ranges_of(choice.order)
        )
        yield f"What would do as well: {', '.join(told)}. {beside}"
        return
    if decision.stability < SURE and decision.rivals:
        rivals = ", ".join(f"{r.item} ({percent(r.share)})" for r in decision.rivals[:3])
        yield f"Better in some of the cases that the measurements allow: {rivals}."
    yield from (each.text for each in decision.better_measured[:_MOST_BETTER])
    yield beside


def _order_dials(choice: Choice) -> tuple[Dial, ...]:
    return tuple(
        Dial(name=f"{name} to order", numeral=f"{size.target:.{places}f}")
        for name, size, places in ranges_of(choice.order)
    )


def _dials(spring: PageSpring, available: Estimate | None) -> Iterator[Dial]:
    if spring.height is not None:
        yield _height_dial(spring, spring.height, available)
    yield _dial("thickness", spring.thickness)
    if spring.length is not None:
        yield _dial("length", spring.length)


def _height_dial(spring: PageSpring, height: Dimension, available: Estimate | None) -> Dial:
    if available is not None and (spring.kind is RowKind.RULE or not _fits(height, available)):
        return Dial(
            name="height, at most",
            numeral=_most(available),
            note=f"room for {plus_minus(available)}",
        )
    return _dial("height", height)


def _dial(name: str, size: Dimension) -> Dial:
    numeral = f"{size.value_mm:.4g}" if size.low_mm == size.high_mm else f"{size.value_mm:.3g}"
    return Dial(name=name, numeral=numeral, note="" if size.figure == numeral else size.figure)


def _most(available: Estimate) -> str:
    """The lower end of the interval: a spring of that height fits in nearly every case."""
    return f"{math.floor(100 * available.low) / 100:.2f}"


def _fits(height: Dimension, available: Estimate) -> bool:
    """Whether it is more likely than not, which is the least for a spring of the stock too."""
    return probability_above(available, height.value_mm) > LEAST_PROBABILITY


def _of_document(spring: PageSpring, available: Estimate | None) -> str:
    size = _thick_and_long(spring)
    if spring.height is None:
        return f"Look for the documented spring, {size}, as high as the barrel allows."
    high = f"{spring.height.value_mm:.4g} mm high"
    if available is None:
        return (
            f"Look for the documented spring, {high}, {size}, once depth and lid were measured: "
            "whether it fits under the lid is not known."
        )
    likely = percent(probability_above(available, spring.height.value_mm))
    if not _fits(spring.height, available):
        return (
            f"Look for the documented spring, {size}, but at most {_most(available)} mm high: the "
            f"documented height of {spring.height.value_mm:.4g} mm fits with {likely} probability."
        )
    return (
        f"Look for the documented spring, {high}, {size}: its height fits under the lid with "
        f"{likely} probability."
    )


def _by_rule(spring: PageSpring, available: Estimate | None) -> str:
    size = _thick_and_long(spring)
    if available is None:
        return (
            f"Look for a spring {size}: by a rule of thumb ({spring.label}) only, and how high it "
            "may be is not known, which takes the depth and the lid."
        )
    return (
        f"Look for a spring {size}, at most {_most(available)} mm high: thickness and length by "
        f"a rule of thumb ({spring.label}) only, the height measured."
    )


def _thick_and_long(spring: PageSpring) -> str:
    thick = f"{spring.thickness.value_mm:.3g} mm thick"
    return thick if spring.length is None else f"{thick} and {spring.length.value_mm:.3g} mm long"


def _beside_document(result: SizeResult) -> Iterator[str]:
    spring = result.documented
    if spring is not None and spring.ratio_full is not None:
        ratio = spring.ratio_full.whole
        yield f"Torque {ratio.low:.2f} to {ratio.high:.2f} times. {spring.torque_reference}"
    yield from new_spring_gives(result)
    yield "A document may be of another version of the movement: compare with what was found."


def _beside_rule(result: SizeResult) -> Iterator[str]:
    bore = next(e.value for e in result.inputs if e.label == "bore")
    thin, thick = (bore / bores for bores in _USUAL_BORES)
    yield (
        f"Watches with a thickness of bore / {_USUAL_BORES[0]:.0f} to bore / {_USUAL_BORES[1]:.0f} "
        f"run well too, here {thin:.3f} to {thick:.3f} mm (common practice)."
    )
    lengths = [r.figures.length.value for r in result.rules if r.figures.length is not None]
    if lengths:
        yield f"The rules ask for lengths from {min(lengths):.0f} to {max(lengths):.0f} mm."
    yield from new_spring_gives(result)
    yield "A documented size would be worth more than any better measurement."


def _doubts(content: PageContent) -> Iterator[tuple[str, str]]:
    result, choice = content.result, content.choice
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
