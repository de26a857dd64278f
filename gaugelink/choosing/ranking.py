"""The score of every spring in closed form, and the order that follows from it.

How uncertain the measures of springs are is taken to first order, for a whole stock at a
time. Slopes are symmetric differences over one standard uncertainty either way, as in
``uncertainty.first_order``. What all springs share comes through the covariance of the
barrel's state, what each has of its own from its tolerances.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial
from itertools import pairwise, product
from typing import TYPE_CHECKING

from gaugelink.choosing.acting import WatchSetting
from gaugelink.choosing.case import Case
from gaugelink.choosing.loss import Charge, Part, parts
from gaugelink.choosing.measures import (
    Measures,
    height_over,
    log_fill,
    log_needed,
    log_torque,
    log_turns,
    measures,
    ring_mm2,
)
from gaugelink.choosing.springs import Mask, Positions, Springs
from gaugelink.choosing.state import FIELDS, BarrelState, KnownState
from gaugelink.mechanics.arrangement import Winding
from gaugelink.mechanics.materials import OPEN

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array

    OfState = Callable[[BarrelState], Array]
TIE = 0.1  # points: nobody can tell scores apart that are closer
_BLOCK = 8192  # springs at a time: their columns stay in the cache of the processor


@dataclass(frozen=True, slots=True, kw_only=True)
class ScoreParts:
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
    length is nearer to the target, then by name. ``first`` is how many of the best to return, 1
    or more; None for all.
    """
    import numpy as np

    left = np.flatnonzero(~case.judged.refused)
    at = left if first is None else _foremost(case, left, first)
    scores = scores_of(case, at)
    springs = case.fitted.springs.taken(at)
    target_mm2 = case.zone.target * ring_mm2(case.known.best)
    off = np.abs(np.log(springs.length_mm * springs.thickness_mm / target_mm2))
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


def weigh(case: Case, at: Positions) -> ScoreParts:
    """Compute the score of some springs and what it is made of."""
    springs = case.fitted.springs.taken(at)
    return _weighed(case, at, spread_of(case.known, springs, case.watch))


def _weighed(case: Case, at: Positions, spread: Spread) -> ScoreParts:
    values = measures(case.known.best, case.fitted.springs.taken(at), case.watch)
    return ScoreParts(
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
    unstated = springs.of_material(lambda each: float(each.name == OPEN)) > 0
    steel = springs.of_material(lambda each: float(not each.white and each.name != OPEN)) > 0
    knocks = np.zeros(len(at), dtype=bool)
    if case.expected is not None:
        knocks = np.asarray(case.expected.may_knock)[at]
    return {
        Charge.CUT: case.fitted.cut[at],
        Charge.END: other,
        Charge.END_UNKNOWN: unknown,
        Charge.STEEL_FOR_WHITE: steel & case.watch.material.white,
        Charge.MATERIAL_UNKNOWN: unstated,
        Charge.UNKNOWN_FOR_WHITE: unstated & case.watch.material.white,
        Charge.MAY_KNOCK: knocks,
    }


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


_RING = ("bore_mm", "arbor_mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Standard uncertainties of the measures.

    ``own`` comes from the tolerances of each spring, ``common`` from barrel and reference.
    """

    own: Measures
    common: Measures

    @property
    def whole(self) -> Measures:
        """Both together: they are independent."""
        import numpy as np

        joined = {
            each.name: np.hypot(getattr(self.own, each.name), getattr(self.common, each.name))
            for each in fields(Measures)
        }
        return Measures(**joined)


def spread_of(known: KnownState, springs: Springs, watch: WatchSetting) -> Spread:
    """Compute the standard uncertainties of the measures of springs."""
    sizes = spread_but_run(known, springs)
    return Spread(
        own=replace(sizes.own, run=_own_run(known.best, springs, watch)),
        common=replace(sizes.common, run=_common_run(known, springs, watch)),
    )


def spread_but_run(known: KnownState, springs: Springs) -> Spread:
    """Compute the standard uncertainties of the measures with the run taken as known: at 0.

    The run is nearly all of the work of ``spread_of``.
    """
    return Spread(own=_own(known.best, springs), common=_common(known, springs))


def _own(state: BarrelState, springs: Springs) -> Measures:
    """What the tolerances of each spring do to its measures; rectangular, GUM 4.3.7."""
    import numpy as np

    height, torque = _own_u(springs, "height"), partial(log_torque, state)
    return Measures(
        height=height if state.limit_mm is not None else np.zeros_like(height),
        torque=np.hypot(
            _moved(torque, springs, "height"),
            _moved(torque, springs, "thickness"),
        ),
        fill=np.hypot(
            _own_u(springs, "thickness") / springs.thickness_mm,
            _own_u(springs, "length") / springs.length_mm,
        ),
        run=0.0,
    )


def _own_run(state: BarrelState, springs: Springs, watch: WatchSetting) -> Array:
    import numpy as np

    turns = partial(log_turns, state, watch=watch)
    return np.hypot(_moved(turns, springs, "thickness"), _moved(turns, springs, "length"))


def _own_u(springs: Springs, size: str) -> Array:
    u: Array = getattr(springs, f"{size}_tolerance_mm") / math.sqrt(3)
    return u


def _moved(measure: Callable[[Springs], Array], springs: Springs, size: str) -> Array:
    """By how much one standard uncertainty of a size moves a measure."""
    name, u = f"{size}_mm", _own_u(springs, size)
    best = getattr(springs, name)
    up = measure(replace(springs, **{name: best + u}))
    down = measure(replace(springs, **{name: best - u}))
    return (up - down) / 2


def _common(known: KnownState, springs: Springs) -> Measures:
    height = _slopes(known, partial(height_over, springs=springs), ("limit_mm",))
    torque = _slopes(known, partial(log_torque, springs=springs), ("thickness_mm", "height_mm"))
    fill = _slopes(known, partial(log_fill, springs=springs), _RING)
    return Measures(
        height=_u(known, height, len(springs)),
        torque=_u(known, torque, len(springs)),
        fill=_u(known, fill, len(springs)),
        run=0.0,
    )


def _common_run(known: KnownState, springs: Springs, watch: WatchSetting) -> Array:
    given = partial(log_turns, springs=springs, watch=watch)
    turns = _slopes(known, given, (*_RING, "stress_mpa", "other"))
    needed = _slopes(known, partial(log_needed, watch=watch), FIELDS)
    names = dict.fromkeys((*turns, *needed))
    run = {name: turns.get(name, 0.0) - needed.get(name, 0.0) for name in names}
    return _u(known, run, len(springs))


def _slopes(known: KnownState, measure: OfState, names: Sequence[str]) -> dict[str, Array]:
    slopes = {}
    for name in names:
        u, best = known.u(name), getattr(known.best, name)
        if u > 0:
            up = measure(replace(known.best, **{name: best + u}))
            down = measure(replace(known.best, **{name: best - u}))
            slopes[name] = (up - down) / (2 * u)
    return slopes


def _u(known: KnownState, slopes: Mapping[str, Array | float], n: int) -> Array:
    """Return sqrt(g^T C g), the slopes g by field, for each spring."""
    import numpy as np

    variance = np.zeros(n)
    for one, other in product(slopes, repeat=2):
        covariance = known.covariance[FIELDS.index(one), FIELDS.index(other)]
        variance += covariance * slopes[one] * slopes[other]
    u: Array = np.sqrt(np.maximum(variance, 0.0))
    return u
