"""What lies between the faces of the gauge and the size that is wanted.

A strip that is hollow across, or wears a film of oil, reads high, never low. A depth
rod's beam rests on a narrow seat, or the lid does not lie flush with the rim. An arbor's
hub rises like a snail. The ranges are common practice; none is a published value.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from gaugelink.gauge_record import Anvils
from gaugelink.model import DepthReference
from gaugelink.uncertainty.estimate import Quantity, Term, bounded

# By how much at most a wiped spring reads high: flat anvils bridge its hollow and press
# on a film, balls meet the film alone.
MOST_READ_HIGH_MM: Mapping[Anvils, float] = {Anvils.FLAT: 0.005, Anvils.BALL: 0.002}
_HIGH_BY: Mapping[Anvils, str] = {Anvils.FLAT: "film and cross-curvature", Anvils.BALL: "film"}

DEPTH_PLANE_MM = 0.010
_DEPTH_PLANE: Mapping[DepthReference, str] = {
    DepthReference.RIM: "lid not flush with the rim",
    DepthReference.SEAT: "beam on the narrow lid seat",
}

# A hub that reads alike wherever it was tried may be round, or was tried at one width: its
# middle lies within this of the readings, half of the largest rise that is not looked for.
HUB_UNSEEN_MM = 0.05


def thickness_of_strip(reading: Quantity, anvils: Anvils | None) -> Quantity:
    """Return the thickness in mm of a strip that reads high by an unknown amount.

    e = y - h with h anywhere from 0 to ``MOST_READ_HIGH_MM``: the mean of h is
    subtracted, its spread is an influence.

    Args:
        reading: the corrected indication y.
        anvils: the faces that touched it; None counts as flat.
    """
    shape = anvils or Anvils.FLAT
    half_mm = MOST_READ_HIGH_MM[shape] / 2.0
    label = f"{reading.label} {_HIGH_BY[shape]} (0 to {2000.0 * half_mm:.0f} um high)"
    return _with_bound(replace(reading, value=reading.value - half_mm), label, half_mm, -1.0)


def depth_to_plane(reading: Quantity, reference: DepthReference) -> Quantity:
    """Return the depth in mm from the floor to the plane that the lid lies in.

    The rim stands for the outside of a lid that lies flush, the seat for its inside;
    each does so within ``DEPTH_PLANE_MM``.
    """
    return _with_bound(reading, _DEPTH_PLANE[reference], DEPTH_PLANE_MM)


def hub_of_snail(reading: Quantity, used_mm: Sequence[float], rise_mm: float) -> Quantity:
    """Return the mean diameter in mm of a hub whose readings show its rise.

    A spiral rise makes all widths between the smallest and the largest equally likely, so
    of widths met at random the mean is the hub. Of widths that were sought out, the mean
    of the smallest and the largest is: common practice, and exact for an even rise. Which
    they are is not known; the mean is taken, and the difference of the two is an influence.

    Where the rise r that is seen is less than the rise R that may go unseen, the rest of it
    may lie on either side: that leaves the middle open by (R - r) / 2 either way. So the
    uncertainty does not fall off where a rise is just seen.

    Args:
        reading: the corrected indication, from the mean of the readings.
        used_mm: the readings themselves, one or more.
        rise_mm: largest less smallest width as seen, scatter taken off.
    """
    middle_mm = (min(used_mm) + max(used_mm)) / 2.0
    bounds_mm = {
        "mean or middle of its widths": abs(middle_mm - math.fsum(used_mm) / len(used_mm)),
        "rest of its rise not seen": max(HUB_UNSEEN_MM - rise_mm / 2.0, 0.0),
    }
    hub = reading
    for label, half_width_mm in bounds_mm.items():
        if half_width_mm > 0.0:
            hub = _with_bound(hub, f"{reading.label} hub shape ({label})", half_width_mm)
    return hub


def hub_alike(reading: Quantity) -> Quantity:
    """Return the hub in mm when its readings show no rise: the rise may have been missed."""
    return _with_bound(reading, f"{reading.label} hub shape (no rise seen)", HUB_UNSEEN_MM)


def _with_bound(
    quantity: Quantity, label: str, half_width_mm: float, factor: float = 1.0
) -> Quantity:
    bound = Term(influence=bounded(label, half_width_mm), factor=factor)
    return replace(quantity, terms=(*quantity.terms, bound))
