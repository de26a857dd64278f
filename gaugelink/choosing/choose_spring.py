"""From a barrel and a stock to the spring to fit, and how sure that is.

How sure the first place is comes with what to measure better; beside the picks stand what to
order, in the steps of the trade, and where nothing fits the least change that would do.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from gaugelink.choosing import choice
from gaugelink.choosing.case import Case, prepare, reach_of
from gaugelink.choosing.drawn import (
    ContenderFigures,
    Drawn,
    Informed,
    draw,
    shares_of_first,
    stability,
    value_of_all,
    value_of_knowing,
)
from gaugelink.choosing.measures import reference_in
from gaugelink.choosing.ranking import Ranking, rank, scores_of
from gaugelink.choosing.reasons import doubts, grounds_of, not_covered, pick_doubts, reasons_for
from gaugelink.choosing.refusals import Refusals, changes_for, cost_of_change, may_be_helped
from gaugelink.choosing.springs import Positions
from gaugelink.choosing.state import REFERENCE_TEXT, UNSEEN, ChoosingInputs
from gaugelink.errors import InputError
from gaugelink.mechanics.band import Band
from gaugelink.sizing.checks import check_inputs
from gaugelink.sizing.covered import covered
from gaugelink.sizing.order import order_for
from gaugelink.stock.stock_spring import StockSpring
from gaugelink.uncertainty.coverage import check_coverage, coverage_factor
from gaugelink.uncertainty.estimate import Estimate
from gaugelink.uncertainty.monte_carlo import MIN_DRAWS
from gaugelink.units import percent

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array
SHORTLIST = 20
# Contenders beyond the shortlist: the best of every other height and thickness, which may be
# the right spring if the measurements are off.
CONTENDERS = 24
LOOKED_THROUGH = 5000
_MOST_NUMBERS = 4_000_000  # draws times contenders: a dozen arrays of so many


def choose_spring(
    inputs: ChoosingInputs,
    stock: Sequence[StockSpring],
    *,
    shortlist: int = SHORTLIST,
    coverage: float = 0.95,
    draws: int = 8_000,
    seed: int = 1,
) -> choice.Choice:
    """Rank the springs of a stock for a barrel by their expected loss, in points.

    The whole stock is ranked in closed form; the figures of the shortlist, and how stable
    its first place is, come from Monte Carlo draws (see ``loss`` and ``drawn``).

    Args:
        inputs: the barrel and the watch around it.
        stock: the springs, in any order, each item once.
        shortlist: for how many of the best the figures are worked out, 1 or more.
        coverage: coverage probability of the intervals, between 0 and 1.
        draws: number of Monte Carlo draws, 1000 or more.
        seed: 0 or more; the same seed gives the same numbers.

    Raises:
        SizingError: the inputs contradict one another, or no rule holds for this barrel.
        InputError: the stock or an option cannot be used.
    """
    check_coverage(coverage)
    _check(shortlist, draws, seed)
    wishes = covered(inputs.barrel)
    check_inputs(wishes.inputs)
    case = prepare(replace(inputs, barrel=wishes.inputs), stock)
    ranking = rank(case, first=LOOKED_THROUGH)
    picks, decision = _picks(case, ranking, shortlist, coverage, draws, seed)
    return choice.Choice(
        picks=picks,
        ranked=ranking.fit,
        refused=Refusals(case),
        stock_size=len(stock),
        limit=_limit(case, coverage),
        limit_from_depth=case.known.limit_from_depth,
        reference=_reference(case),
        wish=case.wish,
        decision=decision,
        order=order_for(wishes.inputs),
        least_bad=None if picks else least_bad(case),
        warnings=(*not_covered(wishes.refused), *doubts(case)),
        coverage=coverage,
    )


def _check(shortlist: int, draws: int, seed: int) -> None:
    if draws < MIN_DRAWS:
        raise InputError(
            f"{draws} draws are too few to tell how sure a choice is.",
            hint=f"Ask for at least {MIN_DRAWS}.",
        )
    if seed < 0:
        raise InputError(f"A seed of {seed} is not possible.", hint="Give 0 or a larger number.")
    if shortlist < 1:
        raise InputError(
            f"A list of {shortlist} springs is not possible.", hint="Ask for 1 or more."
        )
    if draws * max(shortlist, CONTENDERS) > _MOST_NUMBERS:
        raise InputError(
            f"{draws} draws of {max(shortlist, CONTENDERS)} springs are too many.",
            hint=f"Ask for fewer draws; {_MOST_NUMBERS // CONTENDERS} are plenty.",
        )


def _picks(
    case: Case, ranking: Ranking, shortlist: int, coverage: float, draws: int, seed: int
) -> tuple[tuple[choice.Pick, ...], choice.Decision | None]:
    if len(ranking.order) == 0:
        return (), None
    at = contenders(case, ranking, shortlist)
    drawn = draw(case, at, draws=draws, seed=seed)
    figures = ContenderFigures(case, at, drawn, coverage)
    grounds = grounds_of(case, at, figures)
    picks = tuple(
        replace(_pick(case, figures, j, int(at[j]), float(ranking.scores[j])), reasons=why)
        for j in range(min(shortlist, len(ranking.order)))
        for why in [reasons_for(grounds, j)]
    )
    return picks, decide(case, at, drawn, seed)


def contenders(case: Case, ranking: Ranking, shortlist: int) -> Positions:
    """Return the shortlist, and after it the best of every other height and thickness."""
    import numpy as np

    looked = ranking.order.tolist()
    chosen = looked[:shortlist]
    sizes = {_section(case.stock[i]) for i in chosen}
    for i in looked[shortlist:]:
        if len(chosen) >= max(shortlist, CONTENDERS):
            break
        if (size := _section(case.stock[i])) not in sizes:
            sizes.add(size)
            chosen.append(i)
    return np.array(chosen, dtype=np.intp)


def _section(spring: StockSpring) -> tuple[float, float]:
    return spring.height_mm, spring.thickness_mm


def _pick(
    case: Case, figures: ContenderFigures, j: int, position: int, score: float
) -> choice.Pick:
    cut = bool(case.fitted.cut[position])
    expected = figures.expected(j)
    return choice.Pick(
        spring=case.stock[position],
        score=score,
        probability_fits=figures.probability_fits(j),
        probability_goes_in=_goes_in(case, position),
        cut_to_mm=float(case.fitted.springs.length_mm[position]) if cut else None,
        turns=figures.turns(j),
        turns_usable=figures.turns_usable(j),
        hours=figures.hours(j),
        hours_to_stop=figures.hours_to_stop(j),
        fill=figures.fill(j),
        torque_ratio=figures.torque_ratio(j),
        torque_to_found=figures.torque_to_found(j),
        amplitude_deg=None
        if expected is None
        else Band(low=float(expected.low_deg), high=float(expected.high_deg)),
        reach=None if expected is None or case.wish is None else reach_of(case.wish, expected),
        reasons=(),
        warnings=pick_doubts(case, position, figures.probability_fits(j), expected),
    )


def _goes_in(case: Case, position: int) -> float | None:
    goes_in = case.judged.probability_goes_in
    return None if goes_in is None else float(goes_in[position])


def _limit(case: Case, coverage: float) -> Estimate | None:
    limit = case.known.best.limit_mm
    if limit is None:
        return None
    u, dof = case.known.u("limit_mm"), case.known.limit_dof
    half = coverage_factor(coverage, dof) * u if u else 0.0
    value = float(limit)
    return Estimate(
        label="limit", value=value, u=u, dof=dof, unit="mm", low=value - half, high=value + half
    )


def _reference(case: Case) -> choice.ReferenceSpring:
    kind = case.known.reference
    reference = reference_in(case.known.best, kind, case.watch)
    height = reference.height_mm
    return choice.ReferenceSpring(
        kind=kind,
        text=REFERENCE_TEXT[kind],
        height_mm=None if height is None else float(height),
        thickness_mm=float(reference.thickness_mm),
        length_mm=float(reference.length_mm),
    )


LEAST_GAIN = 0.05  # points: half of what a tie is
LEAST_SHARE = 0.01
MOST_RIVALS = 5
OWN = {
    "thickness": "thickness of the springs themselves",
    "height": "height of the springs themselves",
}


def decide(case: Case, at: Positions, drawn: Drawn, seed: int) -> choice.Decision:
    """Tell how stable the first of the contenders is, and what would make it more so."""
    known = stability(drawn.losses)
    return choice.Decision(
        stability=known,
        stability_with_strip=stability(drawn.with_strip),
        gain_of_all=value_of_all(drawn.losses),
        rivals=tuple(_rivals(case, at, drawn.losses)),
        better_measured=_better_measured(drawn, known),
        contenders=len(at),
        draws=len(drawn.losses),
        seed=seed,
    )


def _rivals(case: Case, at: Positions, losses: Array) -> Iterator[choice.Rival]:
    shares = shares_of_first(losses)
    for j in sorted(range(1, len(at)), key=lambda j: -shares[j])[:MOST_RIVALS]:
        if shares[j] >= LEAST_SHARE:
            yield choice.Rival(item=case.stock[int(at[j])].item, share=float(shares[j]))


def _better_measured(drawn: Drawn, now: float) -> tuple[choice.BetterMeasured, ...]:
    """Of the barrel and the reference, and of the springs; the free shape nobody measures."""
    found = [
        (name, value_of_knowing(drawn.losses, values), now)
        for name, values in drawn.inputs.items()
        if name not in UNSEEN
    ]
    with_strip = stability(drawn.with_strip)
    found += [
        (OWN[name], value_of_knowing(drawn.with_strip, drawn.own[name]), with_strip) for name in OWN
    ]
    worth = [each for each in found if each[1].is_sure and each[1].gain >= LEAST_GAIN]
    return tuple(_better(*each) for each in sorted(worth, key=lambda each: -each[1].gain))


def _better(name: str, informed: Informed, now: float) -> choice.BetterMeasured:
    spoken = spoken_input(name)
    return choice.BetterMeasured(
        input=name,
        gain=informed.gain,
        right=informed.right,
        text=f"If the {spoken} were known exactly, the choice would be best in "
        f"{percent(informed.right)} of the cases instead of {percent(now)}, and "
        f"{informed.gain:.1f} points better.",
    )


def spoken_input(name: str) -> str:
    """Return an input as it is spoken of: ``found.thickness`` is the thickness of the found one."""
    spring, _, size = name.partition(".")
    return f"{size} of the {spring} spring" if size else spring


def least_bad(case: Case) -> choice.LeastBad | None:
    """Return the change that is least bad; None where no change would help.

    The score is that of the spring as it is, refusals set aside, and what the change costs.
    """
    import numpy as np

    at = np.flatnonzero(may_be_helped(case))
    if len(at) == 0:
        return None
    scores = scores_of(case, at) + cost_of_change(case, at)
    best = int(scores.argmin())
    position = int(at[best])
    spring = case.stock[position]
    changes = changes_for(case, position)
    size = f"{spring.height_mm:.3g} x {spring.thickness_mm:.3g} x {spring.length_mm:.0f} mm"
    return choice.LeastBad(
        item=spring.item,
        score=float(scores[best]),
        text=f"{spring.item} ({size}): {', and '.join(changes)}.",
    )
