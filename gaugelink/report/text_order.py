"""The answer on one screen of 24 lines: what to order and why, what to check, what next."""

from __future__ import annotations

from collections.abc import Iterator

from gaugelink.recommending.recommend import Recommendation, range_line
from gaugelink.report.table import ends, span, spring_cautions, wrapped
from gaugelink.sizing.order import HeightFrom, Order
from gaugelink.sizing.results import SizeResult

LINES = 24
MORE = "The rest: --full."


def order_text(recommendation: Recommendation, result: SizeResult) -> str:
    """Render the one answer; what does not go on the screen is counted and named."""
    head = [*answer_lines(recommendation)]
    tail = ["", *spring_cautions(result.watch.arrangement).splitlines()]
    doubts = [*_doubts(recommendation, result)]
    lines = [*head, *_cut(doubts, LINES - len(head) - len(tail) - 1), *tail, MORE]
    return "\n".join(lines) + "\n"


def answer_lines(answer: Recommendation) -> Iterator[str]:
    """Yield the lines of the answer itself: what to order or settle, what will do, and why."""
    yield from wrapped(answer.text, lead="").splitlines()
    if answer.left:
        for stop in answer.left[1:]:
            yield from wrapped(f"{stop.text} {stop.settle}", lead="  ! ").splitlines()
        names = " ".join(f"--accept {stop.name}" for stop in answer.left)
        yield from wrapped(f"If it is right all the same: {names}.").splitlines()
        return
    if answer.order is None:
        return
    if answer.take is not None:
        yield answer.order_line
    yield from wrapped(f"{will_do(answer.order)}. {end_and_material(answer.order)}").splitlines()
    yield ""
    yield from wrapped(f"It rests on {answer.rests_on}").splitlines()
    said = does(answer) if answer.take is None else (answer.sure,)  # those are of the order
    yield from wrapped(" ".join(said)).splitlines()


def will_do(order: Order) -> str:
    """Say between which sizes others will do."""
    known = order.height_from is not HeightFrom.DEPTH
    sizes = {
        "height": order.height if known else None,
        "thickness": order.thickness,
        "length": order.length,
    }
    said = ", ".join(range_line(name, size) for name, size in sizes.items() if size is not None)
    return f"{said[:1].upper()}{said[1:]} will do"


def end_and_material(order: Order) -> str:
    """Say outer end and material to order; what nobody told is asked for."""
    end = order.end or "not known (--end)"
    material = order.material or "not known (--material)"
    return f"Outer end: {end}; material: {material}."


def does(answer: Recommendation) -> Iterator[str]:
    """Say what the size to order does, and how sure it is."""
    if answer.play is not None:
        yield f"It leaves {answer.play:.2f} mm of play."
    if answer.turns is not None:
        hours = "" if answer.hours is None else f", and runs {span(answer.hours, ' to ')} h"
        yield f"It gives {span(answer.turns, ' to ')} turns{hours}."
    if answer.torque_of_found is not None:
        low, high = answer.torque_of_found
        yield f"Torque {ends(low, high, 2, ' to ')} times that of the found spring."
    yield answer.sure


def _doubts(answer: Recommendation, result: SizeResult) -> Iterator[list[str]]:
    """Each doubt and each next step as the lines it takes."""
    for text in checks_of(answer, result):
        yield wrapped(text, lead="  ! ").splitlines()
    for each in answer.next:
        why = f"{each.why[:1].upper()}{each.why[1:]}"
        yield wrapped(f"{why.rstrip('.')}.", lead="  ? ").splitlines()


def checks_of(answer: Recommendation, result: SizeResult) -> tuple[str, ...]:
    """Return what to look at, each once: before fitting, and what is odd about the sizes."""
    return tuple(dict.fromkeys((*answer.check, *(each.text for each in result.warnings))))


def _cut(doubts: list[list[str]], room: int) -> list[str]:
    if not doubts:
        return []
    shown: list[str] = ["", "CHECK FIRST (!), AND WHAT WOULD TELL MORE (?)"]
    for at, lines in enumerate(doubts):
        left = len(doubts) - at
        if len(shown) + len(lines) + (1 if left > 1 else 0) > room:
            return [*shown, f"  and {left} more (--full)"]
        shown += lines
    return shown
