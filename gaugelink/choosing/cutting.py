"""How much of the ring a spring should fill, and what a longer one is cut to."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gaugelink.choosing.acting import Watch, reference_in_barrel
from gaugelink.choosing.loss import FILL, FREE_LENGTH, OVERFILLED, Charge, FillZone
from gaugelink.choosing.measures import ring_mm2
from gaugelink.choosing.springs import Mask, Springs
from gaugelink.choosing.state import BarrelState
from gaugelink.mechanics.torque import usable_turns

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array

CUT_STEP_MM = 5.0  # what scissors and a rule are good for
_TRIED = (0.50, 0.60)  # the fill with most usable turns lies here at any usual stress
_STEPS = 51


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """Springs as they would be fitted: ``cut`` marks those that are shortened first."""

    springs: Springs
    cut: Mask


def fill_zone(state: BarrelState, watch: Watch, *, length_known: bool) -> FillZone:
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


def _most_turns(state: BarrelState, watch: Watch) -> float:
    """Return the fill at which the reference thickness gives most usable turns, by search."""
    import numpy as np

    fills = np.linspace(*_TRIED, _STEPS)
    length = fills * ring_mm2(state) / state.thickness_mm
    turns = usable_turns(reference_in_barrel(replace(state, length_mm=length), watch))
    return float(fills[np.argmax(np.nan_to_num(turns))])
