"""The recommendation that every screen, the page and the JSON show; none works out its own.

It is made of a sizing, and of a choice where a stock was looked at. While a stop that nobody
accepted is left there is nothing to order and nothing to take, and the text says what to settle.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gaugelink.errors import InputError
from gaugelink.sizing.order import Basis, HeightFrom, Order, Range
from gaugelink.sizing.results import SizeResult
from gaugelink.sizing.stops import NAMES, Stop
from gaugelink.units import percent

if TYPE_CHECKING:
    from gaugelink.choosing.choice import Choice, Pick
    from gaugelink.model import Advice
    from gaugelink.uncertainty.estimate import Estimate

MOST_TORQUE = 1.25  # from a good motion of 290 degrees it reaches 320, where knocking begins
MOST_NEXT, MOST_TIES = 3, 3
_ON_BASIS = {
    Basis.DOCUMENTED: "the documented size",
    Basis.FOUND: "the size of the found spring, which is healthy",
    Basis.RULE: "thickness by a rule of thumb only, bore / 87 (common practice); length by the "
    "longest run of the torque model",
}
_HEIGHT_FROM = {
    HeightFrom.ROOM: "height from depth and lid",
    HeightFrom.DEPTH: "height from the depth alone (lid not measured): at most that",
    HeightFrom.FOUND: "height from the found spring (depth and lid not measured)",
    HeightFrom.DOCUMENTED: "height from the document",
    HeightFrom.NOTHING: "height open: depth not measured",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Next:
    """What to measure or find out next, and why."""

    input: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StockPick:
    """A spring of the stock to take; ``cut_to_mm`` where it is shortened first.

    ``ties`` names those of the stock whose points cannot be told from its own.
    """

    item: str
    height_mm: float
    thickness_mm: float
    length_mm: float
    cut_to_mm: float | None
    probability_goes_in: float
    torque_low: float
    torque_high: float
    ties: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recommendation:
    """What to order or take.

    Args:
        text: the first line everywhere: what to order, to take, or to settle.
        order: the size to order; None while a stop is left, or where nothing tells it.
        take: from the stock; None where nothing there should be taken.
        rests_on: what each figure rests on, in a sentence.
        play: that the height leaves below the lid, in mm; None without depth and lid.
        goes_in: probability that the height goes in; None without depth and lid.
        turns: usable turns of the size to order.
        hours: until the watch stops, in h; None without the hours per turn.
        torque_of_found: torque over that of the found spring, in its interval.
        sure: how sure that is, in one statement.
        stops: what has to be settled first; those accepted as well.
        accepted: names of the stops that were accepted.
        check: what to look at before and while it is fitted.
        next: what to measure or find out next, what tells most first.
    """

    text: str
    order: Order | None
    take: StockPick | None
    rests_on: str
    play: float | None
    goes_in: float | None
    turns: Estimate | None
    hours: Estimate | None
    torque_of_found: tuple[float, float] | None
    sure: str
    stops: tuple[Stop, ...]
    accepted: tuple[str, ...]
    check: tuple[str, ...]
    next: tuple[Next, ...]

    @property
    def left(self) -> tuple[Stop, ...]:
        """The stops that nobody accepted."""
        return tuple(stop for stop in self.stops if stop.name not in self.accepted)

    @property
    def order_line(self) -> str:
        """What to order in a line; empty where nothing is."""
        return "" if self.order is None else order_line(self.order)


def recommend(result: SizeResult, choice: Choice | None = None) -> Recommendation:
    """Return the one answer of a sizing, with the spring to take where a stock was looked at.

    Raises:
        InputError: a stop was accepted that does not exist.
    """
    accepted = tuple(sorted(result.accepted))
    _check_accepted(result, accepted)
    left = [stop for stop in result.stops if stop.name not in accepted]
    order = None if left else result.order
    take = None if left or choice is None else taken(choice)
    model = result.order_figures.torque_model if order and result.order_figures else None
    ratio = result.over_found
    return Recommendation(
        text=_text(result, order, take, left),
        order=order,
        take=take,
        rests_on="" if order is None else rests_on(order),
        play=None if order is None else order.play_mm,
        goes_in=_goes_in(result, order),
        turns=None if model is None else model.turns_usable,
        hours=None if model is None else model.hours_to_stop,
        torque_of_found=None
        if ratio is None or order is None
        else (float(ratio.whole.low), float(ratio.whole.high)),
        sure=_sure(result, order, take, choice),
        stops=result.stops,
        accepted=accepted,
        check=tuple(_checks(result, order, take, choice)),
        next=tuple(_next(result, choice))[:MOST_NEXT],
    )


def order_line(order: Order) -> str:
    """Return what to order in a line, in mm: height x thickness x length."""
    thickness, length = f"{order.thickness.target:g}", f"{order.length.target:.0f}"
    if order.height is None:
        return f"Order {thickness} x {length} mm, height open"
    height = f"{order.height.target:.2f}"
    if order.height_is_cap:  # the lid takes some of it: no height to order
        return f"Order {thickness} x {length} mm, height below {height} mm by what the lid takes"
    return f"Order {height} x {thickness} x {length} mm"


def range_line(name: str, size: Range) -> str:
    """Name the sizes that will do, in mm."""
    low, high = f"{size.low:g}", f"{size.high:g}"
    return f"{name} {low} to {high} mm" if low != high else f"{name} {low} mm"


def rests_on(order: Order) -> str:
    """Say what thickness, length and height rest on."""
    return f"{_ON_BASIS[order.basis]}; {_HEIGHT_FROM[order.height_from]}."


def taken(choice: Choice) -> StockPick | None:
    """Return the best spring of the stock that may be taken without a doubt that can hurt.

    None where no height below the lid is known, or where the torque may be enough to knock. What
    does not go in for certain is not among the picks.
    """
    for pick in choice.picks:
        goes_in = pick.probability_goes_in
        if goes_in is None:
            return None
        if not _may_knock(pick):
            spring = pick.spring
            return StockPick(
                item=spring.item,
                height_mm=spring.height_mm,
                thickness_mm=spring.thickness_mm,
                length_mm=spring.length_mm,
                cut_to_mm=pick.cut_to_mm,
                probability_goes_in=goes_in,
                torque_low=float(pick.torque_ratio.low),
                torque_high=float(pick.torque_ratio.high),
                ties=tuple(_ties(choice, pick)),
            )
    return None


def _ties(choice: Choice, first: Pick) -> Iterator[str]:
    from gaugelink.choosing.ranking import TIE

    for pick in choice.picks:
        if pick is not first and abs(pick.score - first.score) <= TIE and not _may_knock(pick):
            yield pick.spring.item


def _may_knock(pick: Pick) -> bool:
    """By the amplitude where one was measured, else by the torque over that of the reference."""
    swing = pick.amplitude_deg
    middle = (pick.torque_ratio.low + pick.torque_ratio.high) / 2
    if swing is not None:
        from gaugelink.mechanics.motion import KNOCKING_FROM_DEG

        return bool((swing.low + swing.high) / 2 >= KNOCKING_FROM_DEG)
    return bool(middle > MOST_TORQUE)


def _check_accepted(result: SizeResult, accepted: tuple[str, ...]) -> None:
    for name in accepted:
        if name not in NAMES:
            there = ", ".join(stop.name for stop in result.stops) or "none here"
            raise InputError(f"Unknown stop: {name!r}.", hint=f"The stops: {there}.")


def _text(result: SizeResult, order: Order | None, take: StockPick | None, left: list[Stop]) -> str:
    if left:
        return f"Settle this first: {left[0].text} {left[0].settle}"
    if take is not None:
        cut = "" if take.cut_to_mm is None else f", cut to {take.cut_to_mm:.0f} mm"
        size = f"{take.height_mm:g} x {take.thickness_mm:g} x {take.length_mm:g} mm"
        return f"Take {take.item} ({size}){cut}"
    if order is not None:
        return order_line(order)
    refused = result.refused[0] if result.refused else None
    return "No size can be given." if refused is None else f"{refused.reason} {refused.hint}"


def _goes_in(result: SizeResult, order: Order | None) -> float | None:
    if result.room is None or order is None or order.height is None:
        return None
    return result.room.goes_in(order.height.target)


def _sure(
    result: SizeResult, order: Order | None, take: StockPick | None, choice: Choice | None
) -> str:
    """One statement: the share of cases for a spring of the stock, else how surely it goes in."""
    if take is not None and choice is not None and choice.decision is not None:
        chance, tied = percent(take.probability_goes_in), _tied(take.ties)
        if choice.picks[0].spring.item != take.item:
            return f"Chance that it goes in: {chance}.{tied}"
        share = choice.decision.stability_with_strip
        best = "over 99" if share > 0.995 else f"{100 * share:.0f}"  # as ``percent`` has it
        return (
            f"The best choice in {best} of 100 cases, allowing for strip tolerance; chance "
            f"that it goes in: {chance}.{tied}"
        )
    goes_in = _goes_in(result, order)
    if order is None:
        return ""
    if goes_in is None:
        return "Measure depth and lid to know whether it goes in."
    return f"Chance that its height goes in: {percent(goes_in)}."


def _tied(items: tuple[str, ...]) -> str:
    if not items:
        return ""
    named = ", ".join(items[:MOST_TIES])
    more = f" and {len(items) - MOST_TIES} more" if len(items) > MOST_TIES else ""
    return f" As good by points, a tie: {named}{more}."


def doubts_of(answer: Recommendation, warnings: Iterable[Advice]) -> tuple[str, ...]:
    """Return what to check first, each doubt once."""
    said = said_by_stops(answer)
    others = (each.text for each in warnings if each.code not in said)
    return tuple(dict.fromkeys((*answer.check, *others)))


def said_by_stops(answer: Recommendation) -> set[str]:
    """Return the codes of warnings that say again what a stop of the answer says."""
    return {_WARNS_OF_STOP[stop.name] for stop in answer.stops if stop.name in _WARNS_OF_STOP}


_WARNS_OF_STOP = {
    **{name: name for name in ("bore", "depth", "found-thickness")},
    **{f"document-{size}": f"documented-{size}" for size in ("thickness", "fill", "height")},
    "arbor-to-bore": "arbor",
}


def _checks(
    result: SizeResult, order: Order | None, take: StockPick | None, choice: Choice | None
) -> Iterator[str]:
    if order is None:
        return
    usual = next((e.value for e in result.inputs if e.label == "clearance"), None)
    play = order.play_mm
    if take is not None and result.room is not None:
        play = result.room.value_mm - take.height_mm
    if play is not None and usual is not None and play < usual - 0.005:
        yield (
            f"It leaves {play:.2f} mm below the lid, usual is {usual:.2f}: try it; the lid must "
            "shut without pressing and the arbor turn free."
        )
    if order.basis is Basis.DOCUMENTED:
        yield (
            "The document may be for another version of the movement: compare it with what you "
            "found."
        )
    if choice is not None and choice.picks and take is None:
        yield _why_not_taken(choice)
    yield from (f"Accepted: {s.text}" for s in result.stops if s.name in result.accepted)


def _why_not_taken(choice: Choice) -> str:
    best = choice.picks[0]
    name = f"{best.spring.item} ({best.spring.size} mm)"
    if best.probability_goes_in is None:
        return f"Measure depth and lid before you take one; nearest: {name}."
    return f"The springs in stock are so strong that the watch may knock; nearest: {name}."


def _next(result: SizeResult, choice: Choice | None) -> Iterator[Next]:
    known = {e.label for e in result.inputs}
    if "depth" not in known:
        yield Next(input="depth", why="the depth tells how high the spring may be")
    elif result.room is None:
        yield Next(input="lid", why="only depth and lid together tell whether a spring goes in")
    if result.documented is None and not (result.order and result.order.basis is Basis.FOUND):
        yield Next(input="document", why="a documented size helps more than any better measurement")
    if any(each.code == "arbor-assumed" for each in result.warnings):
        yield Next(input="arbor", why="measure the arbor: a third of the bore is only assumed")
    if choice is not None and choice.decision is not None:
        for each in choice.decision.better_measured:
            yield Next(input=each.input, why=each.text)
    if result.finding is not None and result.finding.ask:
        yield Next(input="found spring", why=result.finding.ask)
