"""The score of every spring in closed form, and the order that follows from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from gaugelink.choosing.case import Case
from gaugelink.choosing.loss import Charge, Part, parts
from gaugelink.choosing.measures import Measures, measures, ring_mm2
from gaugelink.choosing.spread import Spread, spread_but_run, spread_of
from gaugelink.choosing.springs import Mask, Positions
from gaugelink.mechanics.arrangement import Winding
from gaugelink.mechanics.materials import OPEN

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.uncertainty.estimate import Array

TIE = 0.1  # points: nobody can tell scores apart that are closer
_BLOCK = 8192  # springs at a time: their columns stay in the cache of the processor


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What the score of some springs is made of, in points; ``charges`` says who bears which."""

    values: Measures
    spread: Spread
    parts: Mapping[Part, Array]
    charges: Mapping[Charge, Mask]

    @property
    def charged(self) -> Array:
        """Points of all charges together."""
        import numpy as np

        charged: Array = np.sum([each.points * hit for each, hit in self.charges.items()], axis=0)
        return charged

    @property
    def score(self) -> Array:
        """The expected loss in points, charges included."""
        import numpy as np

        score: Array = np.sum(list(self.parts.values()), axis=0) + self.charged
        return score


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """Positions in the stock of the springs that are not refused, best first, and their scores.

    ``fit`` is how many there are, of which ``order`` may hold only the first.
    """

    order: Positions
    scores: Array
    fit: int


def rank(case: Case, *, first: int | None = None) -> Ranking:
    """Rank what is not refused by the score.

    Scores count in steps of ``TIE``. Of two alike the thinner is first, then the one whose
    length is nearer to the target, then by name.

    Args:
        case: barrel and stock.
        first: how many of the best to return, 1 or more; None for all.
    """
    import numpy as np

    left = np.flatnonzero(~case.judged.refused)
    at = left if first is None else _foremost(case, left, first)
    scores = scores_of(case, at)
    springs = case.fitted.springs.taken(at)
    off = np.abs(np.log(springs.length_mm * springs.thickness_mm / _target_mm2(case)))
    keys = (np.round(scores / TIE), springs.thickness_mm, np.round(off, 6))
    order = np.lexsort(keys[::-1])
    order = _by_name_where_equal(case, at, order, np.array(keys))[:first]
    return Ranking(order=at[order], scores=scores[order], fit=len(left))


def scores_of(case: Case, at: Positions) -> Array:
    """Compute the scores of some springs, refused or not."""
    return _by_blocks(at, lambda some: weigh(case, some).score)


def least_scores(case: Case, at: Positions) -> Array:
    """Compute what the scores of some springs are no less than, at a tenth of the work.

    The run is taken at its best value: the mean of a convex loss is no less than the loss
    at the mean (Jensen's inequality).
    """

    def least(some: Positions) -> Array:
        springs = case.fitted.springs.taken(some)
        return _weighed(case, some, spread_but_run(case.known, springs)).score

    return _by_blocks(at, least)


def _by_blocks(at: Positions, scores: Callable[[Positions], Array]) -> Array:
    import numpy as np

    starts = range(0, max(len(at), 1), _BLOCK)
    return np.concatenate([scores(at[start : start + _BLOCK]) for start in starts])


def _foremost(case: Case, at: Positions, first: int) -> Positions:
    """Leave out those that cannot be among the first: so many others are surely better."""
    import numpy as np

    if len(at) <= first:
        return at
    least = least_scores(case, at)
    promising = at[np.argpartition(least, first)[:first]]
    hopeful: Positions = at[least <= scores_of(case, promising).max() + TIE]
    return hopeful


def weigh(case: Case, at: Positions) -> Weighed:
    """Compute the score of some springs and what it is made of.

    Args:
        case: barrel and stock.
        at: positions in the stock.
    """
    springs = case.fitted.springs.taken(at)
    return _weighed(case, at, spread_of(case.known, springs, case.watch))


def _weighed(case: Case, at: Positions, spread: Spread) -> Weighed:
    values = measures(case.known.best, case.fitted.springs.taken(at), case.watch)
    return Weighed(
        values=values,
        spread=spread,
        parts=parts(case.terms, values, spread.whole),
        charges=_charges(case, at),
    )


def _charges(case: Case, at: Positions) -> dict[Charge, Mask]:
    import numpy as np

    springs, wanted = case.fitted.springs.taken(at), case.watch.end
    asked = wanted is not None or case.watch.winding is Winding.AUTOMATIC
    unknown = springs.of_end(lambda end: asked and end is None)
    other = springs.of_end(lambda end: None not in (wanted, end) and end != wanted)
    steel = springs.of_material(lambda each: float(not each.white and each.name != OPEN)) > 0
    knocks = np.zeros(len(at), dtype=bool)
    if case.expected is not None:
        knocks = np.asarray(case.expected.may_knock)[at]
    return {
        Charge.CUT: case.fitted.cut[at],
        Charge.END: other,
        Charge.END_UNKNOWN: unknown,
        Charge.STEEL_FOR_WHITE: steel & case.watch.material.white,
        Charge.MAY_KNOCK: knocks,
    }


def _target_mm2(case: Case) -> Number:
    return case.zone.target * ring_mm2(case.known.best)


def _by_name_where_equal(case: Case, at: Positions, order: Positions, keys: Array) -> Positions:
    """Sort runs of equal keys by name, so that the order of the list does not matter."""
    import numpy as np

    sorted_keys, places, by_name = keys[:, order], at.tolist(), order.tolist()
    differ = np.any(sorted_keys[:, 1:] != sorted_keys[:, :-1], axis=0)
    ends = np.flatnonzero(np.concatenate(([True], differ, [True]))).tolist()
    for start, end in pairwise(ends):
        if end - start > 1:
            alike = by_name[start:end]
            by_name[start:end] = sorted(alike, key=lambda i: case.stock[places[i]].item)
    return np.array(by_name, dtype=np.intp)
