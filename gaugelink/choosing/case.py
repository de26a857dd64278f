"""One barrel and one stock side by side, judged but not yet weighed.

How much of the ring a spring should fill, and what a longer one is cut to.

Which springs of a stock are refused, for reasons that stand in one table.

An amplitude that is wished for, and which springs may give it.

A wish moves no spring in the ranking and refuses none. The torque to come near to is that of
the reference, and where a movement swings too little with that it wants cleaning before a
stronger spring: two aims for one torque would hide which of them a place is owed to. So each
spring is told to fall short of the wish, to hold it within its band or to go beyond it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum, StrEnum
from typing import TYPE_CHECKING

from gaugelink.choosing.acting import (
    WatchSetting,
    in_barrel,
    reference_in_barrel,
    spare_turns,
    watch_of,
)
from gaugelink.choosing.loss import (
    FILL,
    FREE_LENGTH,
    OVERFILLED,
    Charge,
    FillZone,
    LossTerm,
    probability_below,
    terms_for,
)
from gaugelink.choosing.measures import (
    found_in,
    height_over,
    log_fill,
    log_torque,
    ring_mm2,
    torque_band,
    turns_since_wind,
)
from gaugelink.choosing.springs import Mask, Springs, columns_of
from gaugelink.choosing.state import (
    BarrelState,
    ChoosingInputs,
    KnownState,
    ReferenceKind,
    input_quantities,
    known_state,
)
from gaugelink.mechanics.arrangement import Winding
from gaugelink.mechanics.motion import (
    Expected,
    WishedThickness,
    expected_amplitude,
    thickness_for_amplitude,
)
from gaugelink.mechanics.torque import usable_turns
from gaugelink.sizing.inputs import GivenSpring, SizingInputs
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
    zone: FillZone
    terms: tuple[LossTerm, ...]
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
        InputError: the stock holds something that cannot be judged.
        SizingError: no rule or reference holds for this barrel, or an amplitude is not
            possible.
    """
    import numpy as np

    known, watch = known_state(inputs), watch_of(inputs.barrel)
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
        terms=terms_for(zone),
        fitted=as_fitted,
        expected=expected,
        wish=wish_of(inputs.barrel),
        judged=judge(known, as_fitted.springs, watch, knocks),
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
    found = found_in({quantity.label: quantity.value for quantity in input_quantities(inputs)})
    if measured is None or found is None:
        return None
    turns = turns_since_wind(measured, watch)
    ratio = torque_band(known.best, springs, found, watch, turns=turns)
    if len(springs) and not np.any(np.isfinite(ratio.high)):
        return None  # the found spring had run down by then, if its sizes are right
    return expected_amplitude(measured.amplitude_deg, ratio)


CUT_STEP_MM = 5.0  # what scissors and a rule are good for
_TRIED = (0.50, 0.60)  # the fill with most usable turns lies here at any usual stress
_STEPS = 51


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """Springs as they would be fitted: ``cut`` marks those that are shortened first."""

    springs: Springs
    cut: Mask


def fill_zone(state: BarrelState, watch: WatchSetting, *, length_known: bool) -> FillZone:
    """Return the free zone of the fill, which holds the usual one and that of the reference.

    Args:
        state: best values.
        watch: what the barrel stands in.
        length_known: whether the reference has a length of its own; else the target is the
            fill with the most usable turns.
    """
    own = float(state.length_mm * state.thickness_mm / ring_mm2(state))
    target = own if length_known else _most_turns(state, watch)
    low, high = FILL
    return FillZone(
        low=min(low, target * (1 - FREE_LENGTH)),
        high=max(high, target * (1 + FREE_LENGTH)),
        target=target,
    )


def fitted(state: BarrelState, springs: Springs, zone: FillZone) -> Fitted:
    """Shorten to the target those springs that cost more whole than cut."""
    import numpy as np

    most = zone.high * math.exp(Charge.CUT.points / OVERFILLED)
    fill = springs.length_mm * springs.thickness_mm / ring_mm2(state)
    cut = fill > most
    length = np.where(cut, cut_length_mm(state, springs, zone), springs.length_mm)
    return Fitted(springs=replace(springs, length_mm=length), cut=cut)


def cut_length_mm(state: BarrelState, springs: Springs, zone: FillZone) -> Array:
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


# More likely too high than not: "never above", common practice.
LEAST_PROBABILITY = 0.5
LEAST_OF_HEIGHT = 0.75  # of the limit: below, coils tip, cone and rub; judgement
# A step of 0.01 mm in thickness at 0.08 mm and more; two steps are another spring. Judgement.
TORQUE = (0.70, 1.40)
# "A third to a half of the free space": a clock-parts supplier's advice page, m-p.co.uk.
LEAST_FILL = 1 / 3
_ROUNDING = 1e-6


class Why(Enum):
    """Why a spring is refused, in the words of a heading."""

    NONE_ON_HAND = "none on hand"
    TOO_HIGH = "too high for the barrel"
    TOO_LOW = "far too low for the barrel"
    TOO_STRONG = "far too strong"
    TOO_WEAK = "far too weak"
    TOO_SHORT = "too short"
    OUTER_END = "outer end does not go with the winding"
    STOPWORK = "too few turns for the stopwork"
    KNOCKS = "would make the watch knock"


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What refusals are told from, a column each, and which springs each reason hits.

    ``probability_fits`` is None where no limit is known, ``torque`` is over that of the
    reference at full wind.
    """

    probability_fits: Array | None
    height_over_mm: Array
    torque: Array
    fill: Array
    hit: Mapping[Why, Mask]

    @property
    def refused(self) -> Mask:
        """Which springs are refused for any reason."""
        import numpy as np

        refused: Mask = np.any(list(self.hit.values()), axis=0)
        return refused


def judge(
    known: KnownState, springs: Springs, watch: WatchSetting, will_knock: Mask | None
) -> Judged:
    """Tell which springs are refused.

    Args:
        known: barrel and reference.
        springs: as they would be fitted.
        watch: what the barrel stands in.
        will_knock: which springs make the movement knock; None where nobody can say.
    """
    import numpy as np

    fits = _probability_fits(known, springs)
    torque, fill = np.exp(log_torque(known.best, springs)), np.exp(log_fill(known.best, springs))
    never, limit = np.zeros(len(springs), dtype=bool), known.best.limit_mm
    return Judged(
        probability_fits=fits,
        height_over_mm=height_over(known.best, springs),
        torque=torque,
        fill=fill,
        hit={
            Why.NONE_ON_HAND: ~springs.on_hand,
            Why.TOO_HIGH: never if fits is None else fits < LEAST_PROBABILITY - _ROUNDING,
            Why.TOO_LOW: never if limit is None else springs.height_mm < LEAST_OF_HEIGHT * limit,
            Why.TOO_STRONG: torque > TORQUE[1],
            Why.TOO_WEAK: torque < TORQUE[0],
            Why.TOO_SHORT: fill < LEAST_FILL,
            Why.OUTER_END: _wrong_end(springs, watch),
            Why.STOPWORK: _without_turns(known, springs, watch),
            Why.KNOCKS: never if will_knock is None else will_knock,
        },
    )


def _probability_fits(known: KnownState, springs: Springs) -> Array | None:
    if known.best.limit_mm is None:
        return None
    room = -height_over(known.best, springs)
    return probability_below(room, known.u("limit_mm"), springs.height_tolerance_mm)


def _wrong_end(springs: Springs, watch: WatchSetting) -> Mask:
    """A plain spring in a smooth wall does not hold, a bridle in a hooked barrel does not slip."""
    automatic = watch.winding is Winding.AUTOMATIC
    return springs.of_end(lambda end: end is not None and end.slips != automatic)


def _without_turns(known: KnownState, springs: Springs, watch: WatchSetting) -> Mask:
    """Too few turns even for the straightest of the free shapes, which has the most.

    Where they may be enough the turns that are short cost points, and a doubt says so.
    """
    import numpy as np

    if watch.stopwork is None:
        return np.zeros(len(springs), dtype=bool)
    straightest = replace(known.best, shape=1.0)
    spare = spare_turns(in_barrel(straightest, springs, watch), watch.stopwork)
    short: Mask = np.asarray(spare) < 0
    return short


_ROUNDING_DEG = 0.5  # amplitudes are read and shown in whole degrees


class Reach(StrEnum):
    """How the amplitudes to expect of a spring lie to the one wished for."""

    SHORT = "short"
    WITHIN = "within"
    BEYOND = "beyond"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """An amplitude in degrees, in the state of the measured one, and what it takes."""

    amplitude_deg: float
    takes: WishedThickness


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
