"""The recommendation in one sentence, what it rests on, and what a person must look at first."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.choosing.case import LEAST_PROBABILITY
from gaugelink.choosing.results import Choice, Order, Range, percent
from gaugelink.drawing.dimension import Dimension
from gaugelink.drawing.rules_plot import RowKind
from gaugelink.mechanics.motion import POWER_SAYING
from gaugelink.report.choose_text import SURE
from gaugelink.report.choose_text import answer as choice_answer
from gaugelink.report.numbers import plus_minus
from gaugelink.report.page_content import PageContent
from gaugelink.report.page_spring import PageSpring, page_spring
from gaugelink.sizing.results import SizeResult
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
class Answer:
    """What to do in a sentence, in further ones how sure that is, and the sizes to look for."""

    sentence: str
    grounds: tuple[str, ...] = ()
    dials: tuple[Dial, ...] = ()


def page_answer(content: PageContent) -> Answer:
    """Return the recommendation: from the stock, a document, a rule, or why there is none."""
    choice, result, spring = content.choice, content.result, page_spring(content)
    if choice is not None:
        dials = tuple(_dials(spring, None)) if choice.picks and spring else _order_dials(choice)
        return Answer(
            sentence=choice_answer(choice), grounds=tuple(_of_choice(choice)), dials=dials
        )
    if result is None or spring is None or spring.kind is RowKind.FOUND:
        return Answer(sentence=f"No size can be given: {_lower(_why_none(content))}")
    dials = tuple(_dials(spring, result.height))
    if spring.kind is RowKind.DOCUMENTED:
        return Answer(
            sentence=_of_document(spring, result.height),
            grounds=tuple(_beside_document(result)),
            dials=dials,
        )
    return Answer(
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
