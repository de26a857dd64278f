"""The contenders for the first place in joint draws of everything that is uncertain.

Their losses come twice: with the strip left to its tolerances in closed form, which is what
better measuring of the barrel can change; and with a size drawn for every spring, which is
what will happen when it is fitted. Out of the draws come the figures of the picks, how stable
the first place is, and what knowing one input exactly would be worth.

The value of knowing an input (the expected value of partial perfect information) is::

    min_j E[L_j] - E_x[ min_j E[L_j | x] ]

in the points of the loss L_j of spring j. E[L_j | x] is estimated by regression of the drawn
losses on the drawn input: M. Strong, J. E. Oakley, A. Brennan, Med. Decis. Making 34 (2014)
311 (from memory); here piecewise linear, with straight tails. The regression is made on one
half of the draws and its choices are paid for in the losses of the other half, so that chance
alone never looks like a gain: the estimate errs on the low side, if at all.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

from gaugelink.choosing.acting import (
    bare_barrel,
    driving_turns,
    rings_more,
)
from gaugelink.choosing.case import Case
from gaugelink.choosing.loss import share_below, total
from gaugelink.choosing.measures import (
    Measures,
    fill_of,
    found_in,
    measures,
    reference_in,
    torque_band,
    turns_since_wind,
)
from gaugelink.choosing.ranking import TIE, weigh
from gaugelink.choosing.springs import Positions, Springs
from gaugelink.choosing.state import (
    OTHER_STRIP,
    BarrelState,
    drawn_values,
    input_quantities,
    state_model,
    state_of,
)
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.motion import Expected, expected_amplitude
from gaugelink.mechanics.torque import ring_turns
from gaugelink.uncertainty.coverage import interval_of
from gaugelink.uncertainty.estimate import Estimate, Influence, Quantity, Shape, Term

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.uncertainty.estimate import Array
_SIZES = ("height", "thickness", "length")


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """Draws along the first axis, springs along the second.

    Args:
        losses: points of each spring, its tolerances in closed form.
        with_strip: points of each spring at its drawn size.
        inputs: draws of each input that varies, by label.
        own: by size, how far the drawn strip is off its nominal size, in mm.
        fits: how much of the height tolerance the limit allows, 0 to 1; None without a limit.
        fill: part of the ring.
        turns: rings of the bare barrel.
        working: turns that drive the watch.
        to_stop: turns until it stops.
        torque_low: lower limit of the torque over that of the reference.
        torque_high: upper limit.
        from_found_low: lower limit of the torque over that of the found spring, when the watch is
            wound or in the state in which the amplitude was measured; None without one.
        from_found_high: upper limit.
    """

    losses: Array
    with_strip: Array
    inputs: Mapping[str, Array]
    own: Mapping[str, Array]
    fits: Array | None
    fill: Array
    turns: Array
    working: Array
    to_stop: Array
    torque_low: Array
    torque_high: Array
    from_found_low: Array | None
    from_found_high: Array | None


def draw(case: Case, at: Positions, *, draws: int, seed: int) -> Drawn:
    """Draw inputs and strip, and compute what the springs at these positions do.

    Args:
        case: barrel and stock.
        at: positions in the stock, one or more.
        draws: 1000 or more.
        seed: 0 or more.

    Raises:
        InputError: draws or seed is out of range.
    """
    blocks = list(_blocks(case, at, draws, seed))
    columns: dict[str, Any] = {
        each.name: _joined([getattr(block, each.name) for block in blocks])
        for each in fields(Drawn)
    }
    return Drawn(**columns)


def _blocks(case: Case, at: Positions, draws: int, seed: int) -> Iterator[Drawn]:
    import numpy as np

    springs, weighed = case.fitted.springs.taken(at), weigh(case, at)
    more = rings_more(case.known.best, springs, case.watch)
    own = tuple(_own_sizes(case, springs, at))
    model = state_model(case.inputs)
    labels = [quantity.label for quantity in input_quantities(case.inputs)]
    with np.errstate(all="ignore"):  # a draw that leaves no room for a spring has no turns
        for values in drawn_values(case.inputs, own, draws=draws, seed=seed):
            size = len(np.asarray(values[OTHER_STRIP]))
            column = {name: np.reshape(values[name], (-1, 1)) for name in labels}
            state = state_of(model(column))
            real = _at_drawn_sizes(springs, values, size)
            found = _from_found(case, state, real, column)
            yield Drawn(
                losses=total(case.terms, measures(state, springs, case.watch), weighed.spread.own)
                + weighed.charged,
                inputs={name: np.asarray(values[name]) for name in labels if np.ndim(values[name])},
                own={
                    name: getattr(real, f"{name}_mm") - getattr(springs, f"{name}_mm")
                    for name in _SIZES
                },
                from_found_low=None if found is None else np.asarray(found.low),
                from_found_high=None if found is None else np.asarray(found.high),
                fits=_fits(state, springs, size),
                **_figures(case, state, real, weighed.charged, more),
            )


def _figures(
    case: Case, state: BarrelState, real: Springs, charged: Array, more: Array
) -> dict[str, Array]:
    import numpy as np

    values = measures(state, real, case.watch)
    reference = reference_in(state, case.known.reference, case.watch)
    ratio = torque_band(state, real, reference, case.watch)
    points = total(case.terms, values, _EXACT) + charged
    driven = driving_turns(state, real, case.watch, more)
    return {
        "with_strip": points,
        "fill": fill_of(state, real),
        "turns": np.nan_to_num(ring_turns(bare_barrel(state, real, case.watch))),
        "working": driven.working,
        "to_stop": driven.to_stop,
        "torque_low": np.broadcast_to(ratio.low, points.shape),
        "torque_high": np.broadcast_to(ratio.high, points.shape),
    }


def _fits(state: BarrelState, springs: Springs, size: int) -> Array | None:
    import numpy as np

    if state.limit_mm is None:
        return None
    share = share_below(state.limit_mm - springs.height_mm, springs.height_tolerance_mm)
    return np.broadcast_to(share, (size, len(springs)))


def _from_found(
    case: Case, state: BarrelState, real: Springs, values: Mapping[str, Array]
) -> Band | None:
    barrel = case.inputs.barrel
    measured, healthy = barrel.amplitude, case.inputs.barrel.found_healthy
    found = found_in(values, barrel.material_of_found, healthy=healthy)
    if found is None:
        return None
    turns = 0.0 if measured is None else turns_since_wind(measured, case.watch)
    return torque_band(state, real, found, case.watch, turns=turns)


def _own_sizes(case: Case, springs: Springs, at: Positions) -> Iterator[Quantity]:
    """Return how far each size of each spring is off, under a name of its own.

    The name is that of the item: neither the order of the list nor what else is in it
    changes what is drawn.
    """
    for place, position in enumerate(at.tolist()):
        for name in _SIZES:
            half = float(getattr(springs, f"{name}_tolerance_mm")[place])
            label = f"{name} of the strip {case.stock[position].item}"
            strip = Influence(label=label, kind="B", u=half / math.sqrt(3), shape=Shape.RECTANGULAR)
            yield Quantity(label=f"{name} {place}", value=0.0, terms=(Term(influence=strip),))


def _at_drawn_sizes(springs: Springs, values: Mapping[str, float | Array], size: int) -> Springs:
    import numpy as np

    real = {}
    for name in _SIZES:
        off = [np.broadcast_to(values[f"{name} {i}"], size) for i in range(len(springs))]
        real[f"{name}_mm"] = getattr(springs, f"{name}_mm") + np.stack(off, axis=1)
    return replace(springs, **real)


def _joined(blocks: list[Any]) -> Any:
    import numpy as np

    first = blocks[0]
    if first is None:
        return None
    if isinstance(first, Mapping):
        return {name: np.concatenate([block[name] for block in blocks]) for name in first}
    return np.concatenate(blocks)


_EXACT = Measures(height=0.0, torque=0.0, fill=0.0, run=0.0)


class ContenderFigures:
    """What the contenders do, each with its uncertainty."""

    def __init__(self, case: Case, at: Positions, drawn: Drawn, coverage: float) -> None:
        self._case, self._drawn, self._coverage = case, drawn, coverage
        springs, state = case.fitted.springs.taken(at), case.known.best
        self._turns = _row(ring_turns(bare_barrel(state, springs, case.watch)))
        more = rings_more(state, springs, case.watch)
        driven = driving_turns(state, springs, case.watch, more)
        self._working, self._to_stop = _row(driven.working), _row(driven.to_stop)
        self._fill = _row(fill_of(state, springs))

    def probability_fits(self, j: int) -> float | None:
        """Return the probability that a contender is no higher than it may be: JCGM 106."""
        fits = self._drawn.fits
        return None if fits is None else float(fits[:, j].mean())

    def turns(self, j: int) -> Estimate:
        """Return the development turns, coils as rings."""
        return self._estimate("turns", self._turns[j], self._drawn.turns[:, j])

    def turns_usable(self, j: int) -> Estimate:
        """Return the turns that drive the watch."""
        return self._estimate("turns_usable", self._working[j], self._drawn.working[:, j])

    def hours(self, j: int) -> Estimate | None:
        """Return how long the watch runs, an upper limit: friction is left out."""
        per_turn = self._case.watch.hours_per_turn
        if per_turn is None:
            return None
        drawn = self._drawn.working[:, j] * per_turn
        return self._estimate("hours", self._working[j] * per_turn, drawn, unit="h")

    def hours_to_stop(self, j: int) -> Estimate | None:
        """Return how long the watch runs until the torque no longer drives its train."""
        per_turn = self._case.watch.hours_per_turn
        if per_turn is None:
            return None
        drawn = self._drawn.to_stop[:, j] * per_turn
        return self._estimate("hours_to_stop", self._to_stop[j] * per_turn, drawn, unit="h")

    def fill(self, j: int) -> Estimate:
        """Return the part of the ring that is covered."""
        return self._estimate("fill", self._fill[j], self._drawn.fill[:, j])

    def torque_ratio(self, j: int) -> Band:
        """Return torque over that of the reference when the watch is wound.

        From where the lower limit of ``mechanics.torque_ratio`` is at its lowest to where
        the upper is at its highest, in the coverage interval.
        """
        return self._reach(self._drawn.torque_low[:, j], self._drawn.torque_high[:, j])

    def torque_to_found(self, j: int) -> Band | None:
        """Return torque over that of the found spring; None where that is not known, or none."""
        low, high = self._drawn.from_found_low, self._drawn.from_found_high
        if low is None or high is None:
            return None
        reach = self._reach(low[:, j], high[:, j])
        return reach if math.isfinite(float(reach.high)) else None

    def expected(self, j: int) -> Expected | None:
        """Return the amplitudes to expect; None where none was measured."""
        low, high = self._drawn.from_found_low, self._drawn.from_found_high
        measured = self._case.inputs.barrel.amplitude
        if self._case.expected is None or measured is None or low is None or high is None:
            return None
        return expected_amplitude(measured.amplitude_deg, self._reach(low[:, j], high[:, j]))

    def _reach(self, low: Array, high: Array) -> Band:
        least, _ = interval_of(low.copy(), self._coverage)
        _, most = interval_of(high.copy(), self._coverage)
        return Band(low=least, high=most)

    def _estimate(self, label: str, value: float, drawn: Array, *, unit: str = "1") -> Estimate:
        low, high = interval_of(drawn.copy(), self._coverage)
        return Estimate(
            label=label,
            value=value,
            u=float(drawn.std(ddof=1)),
            dof=math.inf,
            unit=unit,
            low=low,
            high=high,
        )


def _row(values: Number) -> list[float]:
    import numpy as np

    row: list[float] = np.asarray(values, dtype=float).tolist()
    return row


_KNOTS = (0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95)  # quantiles of the draws
_SURE = 3.0  # standard errors from which a gain is more than chance


@dataclass(frozen=True, slots=True, kw_only=True)
class Informed:
    """What knowing something exactly would be worth.

    Args:
        gain: points by which the expected loss would fall, 0 or more.
        u_gain: standard uncertainty of it from the finite number of draws.
        right: share of draws in which the spring then chosen is the best, or as good.
    """

    gain: float
    u_gain: float
    right: float

    @property
    def is_sure(self) -> bool:
        """Whether the gain is more than chance."""
        return self.gain > _SURE * self.u_gain


def stability(losses: Array, first: int = 0) -> float:
    """Return the share of draws in which no spring is better than the first by a tie or more.

    Args:
        losses: points, draws by springs.
        first: position of the first.
    """
    return float((losses[:, first] <= losses.min(axis=1) + TIE).mean())


def shares_of_first(losses: Array, first: int = 0) -> Array:
    """Return for each spring the share of draws in which it is the best.

    Draws in which ``first`` is as good go to ``first``.
    """
    import numpy as np

    best = losses.argmin(axis=1)
    best[losses[:, first] <= losses.min(axis=1) + TIE] = first
    return np.bincount(best, minlength=losses.shape[1]) / len(losses)


def value_of_knowing(losses: Array, known: Array) -> Informed:
    """Compute what it would be worth to know something exactly.

    Args:
        losses: points, draws by springs.
        known: draws of what would be known: one column for all springs (one dimension), or
            for each spring something of its own (two dimensions).
    """
    import numpy as np

    halves = slice(None, None, 2), slice(1, None, 2)
    settled = int(losses.mean(axis=0).argmin())
    spared, right = [], []
    for learnt, paid in (halves, halves[::-1]):
        foreseen = _foreseen(losses[learnt], known[learnt], known[paid])
        chosen = foreseen.argmin(axis=1)
        price = losses[paid][np.arange(len(chosen)), chosen]
        spared.append(losses[paid][:, settled] - price)
        right.append(price <= losses[paid].min(axis=1) + TIE)
    gains = np.concatenate(spared)
    return Informed(
        gain=max(float(gains.mean()), 0.0),
        u_gain=float(gains.std() / np.sqrt(len(gains))),
        right=float(np.concatenate(right).mean()),
    )


def value_of_all(losses: Array) -> float:
    """Compute what it would be worth to know everything exactly, in points."""
    return float(losses.mean(axis=0).min() - losses.min(axis=1).mean())


def _foreseen(losses: Array, learnt: Array, asked: Array) -> Array:
    """Return E[L_j | x] at the x that are asked for, learnt from other draws."""
    import numpy as np

    if learnt.ndim == 1:
        return _fit(losses, learnt, asked)
    columns = [
        _fit(losses[:, [j]], learnt[:, j], asked[:, j])[:, 0] for j in range(losses.shape[1])
    ]
    return np.stack(columns, axis=1)


def _fit(losses: Array, learnt: Array, asked: Array) -> Array:
    import numpy as np

    middle, scale = learnt.mean(), learnt.std()
    if not scale > 0:
        return np.broadcast_to(losses.mean(axis=0), (len(asked), losses.shape[1]))
    x = (learnt - middle) / scale
    knots = np.quantile(x, _KNOTS)
    basis = _basis(x, knots)
    # The normal equations: nine unknowns, well apart, and thousands of draws. By einsum: the
    # threads of a linear algebra library cost more than so small a product.
    squares = np.einsum("id,kd->ik", basis, basis)
    weights = np.linalg.lstsq(squares, np.einsum("id,dj->ij", basis, losses), rcond=1e-12)[0]
    foreseen: Array = np.einsum("id,ij->dj", _basis((asked - middle) / scale, knots), weights)
    return foreseen


def _basis(x: Array, knots: Array) -> Array:
    import numpy as np

    return np.stack([np.ones_like(x), x, *np.maximum(x - knots[:, None], 0.0)])
