"""The contenders for the first place in joint draws of everything that is uncertain.

Their losses come twice: with the strip left to its tolerances in closed form, which is what
better measuring of the barrel can change; and with a size drawn for every spring, which is
what will happen when it is fitted.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

from gaugelink.choosing.acting import bare_barrel
from gaugelink.choosing.case import Case
from gaugelink.choosing.loss import total
from gaugelink.choosing.measures import Measures, fill_of, log_needed, measures
from gaugelink.choosing.normal import share_below
from gaugelink.choosing.ranking import weigh
from gaugelink.choosing.springs import Positions, Springs
from gaugelink.choosing.state import (
    SHAPE,
    BarrelState,
    drawn_values,
    input_quantities,
    state_model,
    state_of,
)
from gaugelink.choosing.torque import found_in, reference_in, torque_band, turns_since_wind
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.torque import ring_turns
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term

if TYPE_CHECKING:
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
        torque_low: lower limit of the torque over that of the reference.
        torque_high: upper limit.
        from_found_low: lower limit of the torque over that of the found spring, in the state
            in which the amplitude was measured; None without one.
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
    own = tuple(_own_sizes(case, springs, at))
    model = state_model(case.inputs)
    labels = [quantity.label for quantity in input_quantities(case.inputs)]
    with np.errstate(all="ignore"):  # a draw that leaves no room for a spring has no turns
        for values in drawn_values(case.inputs, own, draws=draws, seed=seed):
            size = len(np.asarray(values[SHAPE]))
            column = {name: np.reshape(values[name], (-1, 1)) for name in labels}
            state = state_of(model(column))
            real = _at_drawn_sizes(springs, values, size)
            found = _from_found(case, state, real, column)
            yield Drawn(
                losses=_losses(case, state, springs, weighed.spread.own) + weighed.charged,
                inputs={name: np.asarray(values[name]) for name in labels if np.ndim(values[name])},
                own={
                    name: getattr(real, f"{name}_mm") - getattr(springs, f"{name}_mm")
                    for name in _SIZES
                },
                from_found_low=None if found is None else np.asarray(found.low),
                from_found_high=None if found is None else np.asarray(found.high),
                fits=_fits(state, springs),
                **_figures(case, state, real, weighed.charged),
            )


def _figures(case: Case, state: BarrelState, real: Springs, charged: Array) -> dict[str, Array]:
    import numpy as np

    values = measures(state, real, case.watch)
    ratio = torque_band(state, real, reference_in(state, case.known.reference), case.watch)
    points = total(case.terms, values, _EXACT) + charged
    return {
        "with_strip": points,
        "fill": fill_of(state, real),
        "turns": np.nan_to_num(ring_turns(bare_barrel(state, real))),
        "working": np.exp(values.run + log_needed(state, case.watch)),
        "torque_low": np.broadcast_to(ratio.low, points.shape),
        "torque_high": np.broadcast_to(ratio.high, points.shape),
    }


def _losses(case: Case, state: BarrelState, springs: Springs, own: Measures) -> Array:
    return total(case.terms, measures(state, springs, case.watch), own)


def _fits(state: BarrelState, springs: Springs) -> Array | None:
    if state.limit_mm is None:
        return None
    return share_below(state.limit_mm - springs.height_mm, springs.height_tolerance_mm)


def _from_found(
    case: Case, state: BarrelState, real: Springs, values: Mapping[str, Array]
) -> Band | None:
    measured, found = case.inputs.barrel.amplitude, found_in(values)
    if measured is None or found is None or case.expected is None:
        return None
    turns = turns_since_wind(measured, case.watch)
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
