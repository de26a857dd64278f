"""The score of every spring in closed form, and the order that follows from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gaugelink.choosing.case import Case
from gaugelink.choosing.loss import Charge, Part, parts
from gaugelink.choosing.measures import Measures, measures, ring_mm2
from gaugelink.choosing.spread import Spread, spread_of
from gaugelink.choosing.springs import Mask, Positions
from gaugelink.mechanics import Winding
from gaugelink.mechanics.materials import OPEN

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.uncertainty.estimate import Array

TIE = 0.1  # points: nobody can tell scores apart that are closer


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
    """Positions in the stock of the springs that are not refused, best first, and their scores."""

    order: Positions
    scores: Array


def rank(case: Case) -> Ranking:
    """Rank what is not refused by the score; equal scores go to the thinner spring."""
    import numpy as np

    left = np.flatnonzero(~case.judged.refused)
    return ranked(case, left)


def ranked(case: Case, at: Positions) -> Ranking:
    """Rank some springs, refused or not.

    Scores count in steps of ``TIE``. Of two alike the thinner is first, then the one whose
    length is nearer to the target, then by name.
    """
    import numpy as np

    scores = weigh(case, at).score
    springs = case.fitted.springs.taken(at)
    off = np.abs(np.log(springs.length_mm * springs.thickness_mm / _target_mm2(case)))
    keys = (np.round(scores / TIE), springs.thickness_mm, np.round(off, 6))
    order = np.lexsort(keys[::-1])
    order = _by_name_where_equal(order, np.array(keys), [case.stock[i].item for i in at.tolist()])
    return Ranking(order=at[order], scores=scores[order])


def weigh(case: Case, at: Positions) -> Weighed:
    """Compute the score of some springs and what it is made of.

    Args:
        case: barrel and stock.
        at: positions in the stock.
    """
    springs = case.fitted.springs.taken(at)
    values = measures(case.known.best, springs, case.watch)
    spread = spread_of(case.known, springs, case.watch)
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


def _by_name_where_equal(order: Positions, keys: Array, names: list[str]) -> Positions:
    """Sort runs of equal keys by name, so that the order of the list does not matter."""
    import numpy as np

    sorted_keys = keys[:, order]
    same = np.all(sorted_keys[:, 1:] == sorted_keys[:, :-1], axis=0)
    if not same.any():
        return order
    runs = np.split(order, np.flatnonzero(~same) + 1)
    return np.concatenate([sorted(run.tolist(), key=names.__getitem__) for run in runs])
