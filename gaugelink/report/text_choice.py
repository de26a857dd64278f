"""A choice as text: the answer in a sentence, the springs, why, and what would make it surer."""

from __future__ import annotations

from collections.abc import Iterator

from gaugelink.choosing.choice import Choice, Decision, Pick, Reach
from gaugelink.recommending.recommend import Recommendation, doubts_of
from gaugelink.report.table import (
    BEFORE_CUTTING,
    SPRING_CAUTIONS,
    ends,
    named_table,
    one_line,
    range_text,
    shortened,
    under,
    wrapped,
)
from gaugelink.report.text_order import answer_lines
from gaugelink.units import percent

SURE = 0.95  # from here on nobody need be told of rivals
_MOST_ITEM = 14
_MOST_BETTER = 3
_SHOWN_POINTS = 0.05
_CUT = ("* to be cut to this length", BEFORE_CUTTING)
_MARKS = {Reach.SHORT: "<", Reach.WITHIN: " ", Reach.BEYOND: ">"}


def choose_text(choice: Choice, answer: Recommendation, *, show: int) -> str:
    """Render a choice as text, with so many springs at most."""
    return "\n\n".join(filter(None, _sections(choice, answer, show))) + "\n"


def _sections(choice: Choice, answer: Recommendation, show: int) -> Iterator[str]:
    yield "\n".join(answer_lines(answer))
    if nothing := nothing_to_take(choice):
        yield wrapped(nothing, lead="")
    if choice.picks:
        yield _springs(choice, show)
        yield _why(choice.picks[0])
    if choice.refused:
        title = f"REFUSED: {len(choice.refused)} of {choice.stock_size}"
        yield under(title, (wrapped(line, lead="  - ") for line in refused_lines(choice)))
    if choice.decision is not None:
        texts = _surer_texts(choice, choice.decision)
        yield under("HOW SURE, AND WHAT WOULD HELP", map(wrapped, texts))
    warnings = [*choice.warnings, *(choice.picks[0].warnings if choice.picks else ())]
    doubts = doubts_of(answer, warnings)
    yield under("CHECK FIRST", (wrapped(text, lead="  ! ") for text in doubts))
    if choice.picks:
        yield SPRING_CAUTIONS


def nothing_to_take(choice: Choice) -> str:
    """Say why nothing of the stock may be taken; empty where something may."""
    if choice.picks:
        return ""
    if choice.stock_size == 0:
        return "The stock is empty: read a list of springs first."
    if choice.least_bad is None:
        return "Nothing in stock fits this barrel, not even with a small change."
    return f"Nothing in stock fits as it is; the least bad change: {choice.least_bad.text}"


def reasons_of(pick: Pick) -> Iterator[str]:
    """Say why a spring is where it is, and what each point against it costs."""
    for reason in pick.reasons:
        costs = f" Costs {reason.points:.1f} points." if reason.points >= _SHOWN_POINTS else ""
        yield f"{reason.text}{costs}"


def refused_lines(choice: Choice) -> Iterator[str]:
    """Say for which reasons springs were refused, each with its first case."""
    for why, count, first in choice.refused.counted():
        yield f"{count} {why.value}, such as {first.item}: {first.reason_for(why)}"


def _springs(choice: Choice, show: int) -> str:
    picks = choice.picks[:show]
    columns = {
        "H x T x L mm": [_size(pick) for pick in picks],
        "fits": [_fits(pick.probability_goes_in) for pick in picks],
        "fill": [f"{pick.fill.value:.2f}" for pick in picks],
        "hours": [_hours_or_turns(pick) for pick in picks],
        "torque": [ends(pick.torque_ratio.low, pick.torque_ratio.high, 2) for pick in picks],
        "amplitude": [_degrees(pick) for pick in picks],
        "points": [f"{pick.score:.1f}" for pick in picks],
    }
    if any(pick.amplitude_deg is not None for pick in picks):
        del columns["fill"]
    else:
        del columns["amplitude"]
    if all(pick.hours is None for pick in picks):
        columns = {"turns" if name == "hours" else name: c for name, c in columns.items()}
    more = choice.ranked - len(picks)
    title = f"SPRINGS OF THE STOCK, best first{f' ({more} more)' if more else ''}"
    cut = any(pick.cut_to_mm is not None for pick in picks)
    notes = (
        *(_CUT if cut else ()),
        *(["Hours: until it stops."] if "hours" in columns else ()),
        *(["Fits: goes in below the lid."] if set(columns["fits"]) != {"-"} else ()),
        *_wish_notes(choice),
    )
    items = named_table((pick.spring.item for pick in picks), columns, most=_MOST_ITEM)
    return "\n".join((title, items, *map(wrapped, notes)))


def _wish_notes(choice: Choice) -> Iterator[str]:
    wish = choice.wish
    if wish is None or all(pick.reach is None for pick in choice.picks):
        return
    yield (
        f"< swings less, > more than the {wish.amplitude_deg:g} degrees you want, which take "
        f"{range_text(wish.takes.torque_ratio, 2)} times the torque of the found spring; the "
        f"ranking goes by the torque of {choice.reference.text} alone."
    )


def _size(pick: Pick) -> str:
    spring, cut_mm = pick.spring, pick.cut_to_mm
    length = f"{spring.length_mm:.5g} " if cut_mm is None else f"{cut_mm:.5g}*"
    return f"{spring.height_mm:.4g} x {spring.thickness_mm:.4g} x {length}"


def _fits(probability: float | None) -> str:
    return "-" if probability is None else f"{100 * min(probability, 0.99):.0f} %"


def _hours_or_turns(pick: Pick) -> str:
    if pick.hours_to_stop:
        return ends(pick.hours_to_stop.low, pick.hours_to_stop.high, 0)
    return ends(pick.turns_usable.low, pick.turns_usable.high, 1)


def _degrees(pick: Pick) -> str:
    band, mark = pick.amplitude_deg, "" if pick.reach is None else _MARKS[pick.reach]
    return "-" if band is None else f"{ends(band.low, band.high, 0)}{mark}"


def _why(pick: Pick) -> str:
    lines = (wrapped(line, lead="  - ") for line in reasons_of(pick))
    scale = "One point is the harm of one per cent too little torque; fewest points first."
    name = shortened(one_line(pick.spring.item), _MOST_ITEM)
    return "\n".join((f"WHY {name}", *lines, wrapped(scale)))


def _surer_texts(choice: Choice, decision: Decision) -> Iterator[str]:
    first, rivals = choice.picks[0].spring.item, decision.rivals
    if decision.stability < SURE and rivals:
        others = ", ".join(f"{rival.item} ({percent(rival.share)})" for rival in rivals[:3])
        yield (
            f"The measurements cannot separate {first} from the rest; better in some "
            f"cases: {others}."
        )
    if rivals and rivals[0].share > decision.stability:
        yield (
            f"{rivals[0].item} is better more often, but where it is not it costs more: {first} "
            "is the safer choice."
        )
    better = decision.better_measured[:_MOST_BETTER]
    yield from (each.text for each in better)
    if not better:
        yield "Measuring better would not change the choice."
