"""The recommendation in one sentence, what it rests on, and what a person must look at first.

What to check after fitting: what is foreseen, and room to write what was seen.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.choosing.case import LEAST_PROBABILITY
from gaugelink.choosing.results import Choice, Order, Pick, Range, percent
from gaugelink.drawing.dimension import Dimension
from gaugelink.drawing.rules_plot import RowKind
from gaugelink.jobbook.facts import After, Chosen, Wind, seen_after
from gaugelink.jobbook.predictions import fittings
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.motion import POWER_SAYING
from gaugelink.report.page_content import (
    PageContent,
    PageSpring,
    Sizing,
    page_spring,
    picked_spring,
)
from gaugelink.report.table import plus_minus
from gaugelink.report.text_choice import SURE
from gaugelink.report.text_choice import answer as choice_answer
from gaugelink.report.text_job import ends_text
from gaugelink.report.text_size import span
from gaugelink.sizing.results import Foreseen, SizeResult, SpringFigures, TorqueModel
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
        return Recommendation(sentence=f"No size can be given: {_lower(_why_none(content))}")
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
    decision = choice.decision
    if decision is None:
        yield f"{_to_order(choice.order)} {_beside(choice)}"
        return
    if decision.stability < SURE and decision.rivals:
        rivals = ", ".join(f"{r.item} ({percent(r.share)})" for r in decision.rivals[:3])
        yield f"Better in some of the cases that the measurements allow: {rivals}."
    yield from (each.text for each in decision.better_measured[:_MOST_BETTER])
    yield _beside(choice)


def _beside(choice: Choice) -> str:
    return f"Compared with {choice.reference.text}."


def _to_order(order: Order) -> str:
    told = (
        f"{name} {size.low:.{places}f} to {size.high:.{places}f} mm"
        for name, size, places in _ranges(order)
    )
    return f"What would do as well: {', '.join(told)}."


def _ranges(order: Order) -> Iterator[tuple[str, Range, int]]:
    if order.height is not None:
        yield "height", order.height, 2
    yield "thickness", order.thickness, 3
    yield "length", order.length, 0


def _order_dials(choice: Choice) -> tuple[Dial, ...]:
    return tuple(
        Dial(name=f"{name} to order", numeral=f"{size.target:.{places}f}")
        for name, size, places in _ranges(choice.order)
    )


def _dials(spring: PageSpring, available: Estimate | None) -> Iterator[Dial]:
    if spring.height is not None:
        yield _height_dial(spring, spring.height, available)
    yield _dial("thickness", spring.thickness)
    if spring.length is not None:
        yield _dial("length", spring.length)


def _height_dial(spring: PageSpring, height: Dimension, available: Estimate | None) -> Dial:
    if available is not None and (spring.kind is RowKind.RULE or not _fits(height, available)):
        return Dial(name="height, at most", numeral=_most(available), note=_room(available))
    return _dial("height", height)


def _dial(name: str, size: Dimension) -> Dial:
    numeral = f"{size.value_mm:.4g}" if size.low_mm == size.high_mm else f"{size.value_mm:.3g}"
    return Dial(name=name, numeral=numeral, note="" if size.figure == numeral else size.figure)


def _most(available: Estimate) -> str:
    """The lower end of the interval: a spring of that height fits in nearly every case."""
    return f"{math.floor(100 * available.low) / 100:.2f}"


def _room(available: Estimate) -> str:
    return f"room for {plus_minus(available)}"


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


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


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
    spring, chosen, after = _checked(content), content.last(Chosen), _seen(content)
    if spring is None and chosen is None and after is None:
        return ()
    return (
        Checks(when="Barrel closed", checks=tuple(_with_the_lid(content.sizing, spring, chosen))),
        Checks(
            when="In the watch",
            checks=(
                *_wound(content.sizing, spring, chosen, after),
                *_running(spring, chosen, after),
            ),
        ),
    )


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


def _with_the_lid(
    sizing: Sizing | None, spring: PageSpring | None, chosen: Chosen | None
) -> Iterator[Check]:
    yield Check(what="Spring below the lid", foreseen=_play(sizing, spring, chosen))
    yield Check(what="Lid snaps home all round", foreseen="flush, no bulge")
    yield Check(what="Arbor free, end shake", foreseen="felt")


def _wound(
    sizing: Sizing | None, spring: PageSpring | None, chosen: Chosen | None, after: After | None
) -> Iterator[Check]:
    stops = sizing is not None and sizing.inputs.arrangement.stopwork is not None
    yield Check(what="Barrel turns, rest to full", foreseen=_turns(spring, chosen))
    yield Check(
        what=f"Crown turns, {'between the stops' if stops else 'rest to full'}",
        foreseen=_crown(spring, chosen),
        seen=_number(after.crown_turns if after else None),
    )


def _running(
    spring: PageSpring | None, chosen: Chosen | None, after: After | None
) -> Iterator[Check]:
    yield Check(
        what="Amplitude at full wind",
        foreseen=_amplitude(spring, chosen),
        seen=_amplitudes_seen(after, later=False),
    )
    yield Check(
        what="Sound at full wind",
        foreseen="no knocking",
        seen=(after.noise or "") if after else "",
    )
    yield Check(
        what="Hours it runs",
        foreseen=_hours(spring, chosen),
        seen=_number(after.hours_run if after else None, " h"),
    )
    yield Check(
        what="Amplitude after 24 h",
        foreseen=_kept(spring),
        seen=_amplitudes_seen(after, later=True),
    )


def _seen(content: PageContent) -> After | None:
    """What was seen of the last spring that was chosen, or of any before one was."""
    found = fittings(content.facts)
    return found[-1].after if found else seen_after(content.of_kind(After))


def _play(sizing: Sizing | None, spring: PageSpring | None, chosen: Chosen | None) -> str:
    height = None if sizing is None else sizing.result.height
    if sizing is None or height is None:
        return "some play above it"
    own_mm = _height_mm(spring, chosen)
    if own_mm is None:
        return f"at least {sizing.inputs.clearance.value:.2f} mm of play"
    play_mm = height.value + sizing.inputs.clearance.value - own_mm
    return f"{play_mm:.2f} mm of play" if play_mm > 0 else f"{-play_mm:.2f} mm too high"


def _height_mm(spring: PageSpring | None, chosen: Chosen | None) -> float | None:
    if chosen is not None and chosen.height_mm is not None:
        return chosen.height_mm
    if spring is None or spring.height is None or not spring.has_own_height:
        return None
    return spring.height.value_mm


def _turns(spring: PageSpring | None, chosen: Chosen | None) -> str:
    if chosen is not None and chosen.turns is not None:
        return ends_text(chosen.turns)
    pick, figures = _parts(spring)
    return _estimate(pick.turns if pick else figures.turns if figures else None)


def _crown(spring: PageSpring | None, chosen: Chosen | None) -> str:
    if chosen is not None and chosen.crown_turns is not None:
        return ends_text(chosen.crown_turns)
    model = _model(spring)
    return _estimate(model.crown_turns if model else None)


def _hours(spring: PageSpring | None, chosen: Chosen | None) -> str:
    if chosen is not None and chosen.hours is not None:
        return f"{ends_text(chosen.hours)} h"
    (pick, _), model = _parts(spring), _model(spring)
    hours = pick.hours if pick else model.hours_usable if model else None
    return _NOT_FORESEEN if hours is None else f"{_estimate(hours)} h at most"


def _amplitude(spring: PageSpring | None, chosen: Chosen | None) -> str:
    if chosen is not None and chosen.amplitude_deg is not None:
        return f"{ends_text(chosen.amplitude_deg)}°"
    (pick, _), model = _parts(spring), _model(spring)
    return _degrees(pick.amplitude_deg if pick else None, model.foreseen if model else None)


def _parts(spring: PageSpring | None) -> tuple[Pick | None, SpringFigures | None]:
    return (None, None) if spring is None else (spring.pick, spring.figures)


def _model(spring: PageSpring | None) -> TorqueModel | None:
    return spring.figures.torque_model if spring and spring.figures else None


def _degrees(band: Band | None, foreseen: Foreseen | None) -> str:
    if band is not None:
        return f"{band.low:.0f} to {band.high:.0f}°"
    if foreseen is not None:
        return f"{foreseen.low_deg:.0f} to {foreseen.high_deg:.0f}°"
    return _NOT_FORESEEN


def _kept(spring: PageSpring | None) -> str:
    model = _model(spring)
    kept = model.torque_kept if model else None
    if kept is None:
        return _NOT_FORESEEN
    return f"{100 * kept.low:.0f} to {100 * kept.high:.0f} % of the torque"


def _estimate(estimate: Estimate | None) -> str:
    return _NOT_FORESEEN if estimate is None else span(estimate, " to ")


def _number(value: float | None, unit: str = "") -> str:
    return "" if value is None else f"{value:g}{unit}"


def _amplitudes_seen(after: After | None, *, later: bool) -> str:
    read = after.amplitudes if after else ()
    return ", ".join(
        f"{each.deg:g}°{'' if each.position is None else f' {each.position}'}"
        for each in read
        if (each.wind is Wind.AFTER_24_H) is later
    )
