"""From a barrel and a stock to the spring to fit, and how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from gaugelink.choosing.case import Case, prepare
from gaugelink.choosing.decision import decide
from gaugelink.choosing.doubts import doubts, not_covered, pick_doubts
from gaugelink.choosing.drawn import draw
from gaugelink.choosing.figures import Figures
from gaugelink.choosing.inputs import REFERENCE_TEXT, ChoosingInputs
from gaugelink.choosing.least_bad import least_bad
from gaugelink.choosing.order import what_to_order
from gaugelink.choosing.ranking import Ranking, rank
from gaugelink.choosing.reasons import grounds_of, reasons_for
from gaugelink.choosing.refusal_words import Refusals
from gaugelink.choosing.results import Choice, Decision, Pick, ReferenceSpring
from gaugelink.choosing.springs import Positions
from gaugelink.choosing.torque import reference_in
from gaugelink.choosing.wish import reach_of
from gaugelink.errors import InputError
from gaugelink.mechanics.band import Band
from gaugelink.sizing.checks import check_inputs
from gaugelink.sizing.covered import covered
from gaugelink.stock.spring import StockSpring
from gaugelink.uncertainty.coverage import check_coverage, coverage_factor
from gaugelink.uncertainty.estimate import Estimate
from gaugelink.uncertainty.monte_carlo import MIN_DRAWS

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
) -> Choice:
    """Rank the springs of a stock for a barrel by their expected loss, in points.

    The whole stock is ranked in closed form; the figures of the shortlist, and how stable
    its first place is, come from Monte Carlo draws (see ``loss``, ``drawn``, ``information``).

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
    return Choice(
        picks=picks,
        ranked=ranking.fit,
        refused=Refusals(case),
        stock_size=len(stock),
        limit=_limit(case, coverage),
        limit_from_depth=case.known.limit_from_depth,
        reference=_reference(case),
        wish=case.wish,
        decision=decision,
        order=what_to_order(case),
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
) -> tuple[tuple[Pick, ...], Decision | None]:
    if len(ranking.order) == 0:
        return (), None
    at = contenders(case, ranking, shortlist)
    drawn = draw(case, at, draws=draws, seed=seed)
    figures = Figures(case, at, drawn, coverage)
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


def _pick(case: Case, figures: Figures, j: int, position: int, score: float) -> Pick:
    cut = bool(case.fitted.cut[position])
    expected = figures.expected(j)
    return Pick(
        spring=case.stock[position],
        score=score,
        probability_fits=figures.probability_fits(j),
        cut_to_mm=float(case.fitted.springs.length_mm[position]) if cut else None,
        turns=figures.turns(j),
        turns_usable=figures.turns_usable(j),
        hours=figures.hours(j),
        fill=figures.fill(j),
        torque_ratio=figures.torque_ratio(j),
        amplitude_deg=None
        if expected is None
        else Band(low=float(expected.low_deg), high=float(expected.high_deg)),
        reach=None if expected is None or case.wish is None else reach_of(case.wish, expected),
        reasons=(),
        warnings=pick_doubts(case, position, figures.probability_fits(j), expected),
    )


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


def _reference(case: Case) -> ReferenceSpring:
    kind = case.known.reference
    reference = reference_in(case.known.best, kind)
    height = reference.height_mm
    return ReferenceSpring(
        kind=kind,
        text=REFERENCE_TEXT[kind],
        height_mm=None if height is None else float(height),
        thickness_mm=float(reference.thickness_mm),
        length_mm=float(reference.length_mm),
    )
