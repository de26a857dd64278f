"""One barrel and one stock side by side, assessed but not yet weighed.

Beside the refusals a case settles how much of the ring a spring should fill and what a
longer one is cut to, and which springs may give an amplitude that is wished for. A wish
moves no spring in the ranking and refuses none. The torque to come near to is that of
the reference, and where a movement swings too little with that it wants cleaning before a
stronger spring: two aims for one torque would hide which of them a place is owed to. So each
spring is told to fall short of the wish, to hold it within its band or to go beyond it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gaugelink.choosing import loss
from gaugelink.choosing.acting import (
    WatchSetting,
    reference_in_barrel,
    watch_of,
)
from gaugelink.choosing.choice import Reach, Wish
from gaugelink.choosing.measures import (
    found_in,
    ring_mm2,
    torque_band,
    turns_since_wind,
)
from gaugelink.choosing.refusals import Judged
from gaugelink.choosing.springs import Mask, Springs, columns_of, of_class
from gaugelink.choosing.state import (
    BarrelState,
    ChoosingInputs,
    KnownState,
    ReferenceKind,
    input_quantities,
    known_state,
)
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.motion import (
    Expected,
    expected_amplitude,
    thickness_for_amplitude,
)
from gaugelink.mechanics.torque import usable_turns
from gaugelink.sizing.inputs import GivenSpring, SizingInputs
from gaugelink.sizing.order import room_of
from gaugelink.stock.stock_spring import StockSpring

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What a choice is made from.

    ``fitted`` are all springs of the stock, in its order, cut where that is better.
    ``expected`` are their amplitudes, None where no amplitude was measured or nothing is
    known of the torque it was measured with. ``wish`` is the amplitude wished for.
    """

    inputs: ChoosingInputs
    stock: Sequence[StockSpring]
    known: KnownState
    watch: WatchSetting
    zone: loss.FillZone
    terms: tuple[loss.LossTerm, ...]
    fitted: Fitted
    expected: Expected | None
    wish: Wish | None
    judged: Judged


def prepare(inputs: ChoosingInputs, stock: Sequence[StockSpring]) -> Case:
    """Judge every spring of a stock.

    Args:
        inputs: the barrel, which must have passed ``sizing.checks.check_inputs``.
        stock: the springs, in any order.

    Raises:
        InputError: the stock holds something that cannot be assessed.
        SizingError: no rule or reference holds for this barrel, or an amplitude is not
            possible.
    """
    import numpy as np

    known = known_state(inputs)
    of_found = known.reference is ReferenceKind.FOUND
    watch = watch_of(inputs.barrel, found_is_reference=of_found)
    given = _given(inputs, known.reference)
    length_known = given is not None and given.length is not None
    zone = fill_zone(known.best, watch, length_known=length_known)
    as_fitted = fitted(known.best, columns_of(stock, inputs.strip), zone)
    expected = _expected(inputs, known, as_fitted.springs, watch)
    knocks = None if expected is None else np.asarray(expected.will_knock)
    return Case(
        inputs=inputs,
        stock=stock,
        known=known,
        watch=watch,
        zone=zone,
        terms=loss.terms_for(zone),
        fitted=as_fitted,
        expected=expected,
        wish=wish_of(inputs.barrel),
        judged=Judged(known, as_fitted.springs, watch, knocks, room_of(inputs.barrel)),
    )


def _given(inputs: ChoosingInputs, reference: ReferenceKind) -> GivenSpring | None:
    given = {
        ReferenceKind.DOCUMENTED: inputs.barrel.documented,
        ReferenceKind.FOUND: inputs.barrel.found,
        ReferenceKind.RULE: None,
    }
    return given[reference]


def _expected(
    inputs: ChoosingInputs, known: KnownState, springs: Springs, watch: WatchSetting
) -> Expected | None:
    import numpy as np

    measured = inputs.barrel.amplitude
    values = {quantity.label: quantity.value for quantity in input_quantities(inputs)}
    found = found_in(values, inputs.barrel.material_of_found, healthy=inputs.barrel.found_healthy)
    if measured is None or found is None:
        return None
    turns = turns_since_wind(measured, watch)
    weakest, strongest = (
        torque_band(known.best, of_class(springs, which), found, watch, turns=turns)
        for which in (0, -1)
    )
    ratio = Band(low=weakest.low, high=strongest.high)
    if len(springs) and not np.any(np.isfinite(ratio.high)):
        return None  # the found spring had run down by then, if its sizes are right
    return expected_amplitude(measured.amplitude_deg, ratio)


CUT_STEP_MM = 5.0  # what scissors and a rule are good for
_TRIED = (0.45, 0.60)  # the fill with most usable turns lies here at any usual stress
_STEPS = 76


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """Springs as they would be fitted: ``cut`` marks those that are shortened first."""

    springs: Springs
    cut: Mask


def fill_zone(state: BarrelState, watch: WatchSetting, *, length_known: bool) -> loss.FillZone:
    """Return the free zone of the fill, which holds the usual one and that of the reference.

    Where the reference has no known length of its own, the target is the fill with the most
    usable turns.
    """
    own = float(state.length_mm * state.thickness_mm / ring_mm2(state))
    target = own if length_known else _most_turns(state, watch)
    low, high = loss.FILL
    return loss.FillZone(
        low=min(low, target * (1 - loss.FREE_LENGTH)),
        high=max(high, target * (1 + loss.FREE_LENGTH)),
        target=target,
    )


def fitted(state: BarrelState, springs: Springs, zone: loss.FillZone) -> Fitted:
    """Shorten to the target those springs that cost more whole than cut."""
    import numpy as np

    most = zone.high * math.exp(loss.Charge.CUT.points / loss.OVERFILLED)
    fill = springs.length_mm * springs.thickness_mm / ring_mm2(state)
    cut = fill > most
    length = np.where(cut, cut_length_mm(state, springs, zone), springs.length_mm)
    return Fitted(springs=replace(springs, length_mm=length), cut=cut)


def cut_length_mm(state: BarrelState, springs: Springs, zone: loss.FillZone) -> Array:
    """Compute the length in mm that fills the target, down to a whole step."""
    import numpy as np

    target = zone.target * ring_mm2(state) / springs.thickness_mm
    return np.maximum(np.floor(target / CUT_STEP_MM), 1.0) * CUT_STEP_MM


def _most_turns(state: BarrelState, watch: WatchSetting) -> float:
    """Return the fill at which the reference thickness gives most usable turns, by search."""
    import numpy as np

    fills = np.linspace(*_TRIED, _STEPS)
    length = fills * ring_mm2(state) / state.thickness_mm
    turns = usable_turns(reference_in_barrel(replace(state, length_mm=length), watch))
    return float(fills[np.argmax(np.nan_to_num(turns))])


_ROUNDING_DEG = 0.5  # amplitudes are read and shown in whole degrees


def wish_of(barrel: SizingInputs) -> Wish | None:
    """Return what is wished for; None without a wish, or where no spring can be told by it.

    Raises:
        SizingError: the amplitude is not possible, or would knock.
    """
    measured, found, wished_deg = barrel.amplitude, barrel.found, barrel.wished_amplitude_deg
    if measured is None or found is None or wished_deg is None:
        return None
    takes = thickness_for_amplitude(measured, wished_deg, found.thickness.value)
    return Wish(amplitude_deg=wished_deg, takes=takes)


def reach_of(wish: Wish, expected: Expected) -> Reach:
    """Tell how the amplitudes to expect of a single spring lie to the one wished for."""
    if expected.high_deg + _ROUNDING_DEG < wish.amplitude_deg:
        return Reach.SHORT
    if expected.low_deg - _ROUNDING_DEG > wish.amplitude_deg:
        return Reach.BEYOND
    return Reach.WITHIN
