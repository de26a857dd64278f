"""One barrel and one stock side by side, judged but not yet weighed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gaugelink.choosing.acting import Watch, watch_of
from gaugelink.choosing.cutting import Fitted, fill_zone, fitted
from gaugelink.choosing.inputs import ChoosingInputs, Reference
from gaugelink.choosing.loss import FillZone, Term, terms_for
from gaugelink.choosing.refusals import Judged, judge
from gaugelink.choosing.springs import Springs, columns_of
from gaugelink.choosing.state import KnownState, input_quantities, known_state
from gaugelink.choosing.torque import found_in, torque_band, turns_since_wind
from gaugelink.choosing.wish import Wish, wish_of
from gaugelink.mechanics.motion import Expected, expected_amplitude
from gaugelink.sizing.inputs import GivenSpring
from gaugelink.stock.spring import StockSpring


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
    watch: Watch
    zone: FillZone
    terms: tuple[Term, ...]
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


def _given(inputs: ChoosingInputs, reference: Reference) -> GivenSpring | None:
    given = {
        Reference.DOCUMENTED: inputs.barrel.documented,
        Reference.FOUND: inputs.barrel.found,
        Reference.RULE: None,
    }
    return given[reference]


def _expected(
    inputs: ChoosingInputs, known: KnownState, springs: Springs, watch: Watch
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
