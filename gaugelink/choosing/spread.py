"""How uncertain the measures of springs are, to first order, for a whole stock at a time.

Slopes are symmetric differences over one standard uncertainty either way, as in
``uncertainty.first_order``. What all springs share comes through the covariance of the
barrel's state, what each has of its own from its tolerances.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial
from typing import TYPE_CHECKING

from gaugelink.choosing.acting import Watch
from gaugelink.choosing.measures import (
    Measures,
    height_over,
    log_fill,
    log_needed,
    log_torque,
    log_turns,
)
from gaugelink.choosing.springs import Springs
from gaugelink.choosing.state import FIELDS, BarrelState, KnownState

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array

    OfState = Callable[[BarrelState], Array]

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


def spread_of(known: KnownState, springs: Springs, watch: Watch) -> Spread:
    """Compute the standard uncertainties of the measures of springs."""
    return Spread(own=own_spread(known.best, springs, watch), common=_common(known, springs, watch))


def own_spread(state: BarrelState, springs: Springs, watch: Watch) -> Measures:
    """Compute what the tolerances of each spring do to its measures; rectangular, GUM 4.3.7."""
    import numpy as np

    height = springs.height_tolerance_mm / math.sqrt(3)
    thickness = springs.thickness_tolerance_mm / math.sqrt(3)
    length = springs.length_tolerance_mm / math.sqrt(3)
    turns = partial(log_turns, state, watch=watch)
    return Measures(
        height=height if state.limit_mm is not None else np.zeros_like(height),
        torque=np.hypot(
            _moved(partial(log_torque, state), springs, "height_mm", height),
            _moved(partial(log_torque, state), springs, "thickness_mm", thickness),
        ),
        fill=np.hypot(thickness / springs.thickness_mm, length / springs.length_mm),
        run=np.hypot(
            _moved(turns, springs, "thickness_mm", thickness),
            _moved(turns, springs, "length_mm", length),
        ),
    )


def _moved(measure: Callable[[Springs], Array], springs: Springs, name: str, u: Array) -> Array:
    """By how much one standard uncertainty of a size moves a measure."""
    size = getattr(springs, name)
    up = measure(replace(springs, **{name: size + u}))
    down = measure(replace(springs, **{name: size - u}))
    return (up - down) / 2


def _common(known: KnownState, springs: Springs, watch: Watch) -> Measures:
    turns = _slopes(known, partial(log_turns, springs=springs, watch=watch), (*_RING, "shape"))
    needed = _slopes(known, partial(log_needed, watch=watch), FIELDS)
    run = {name: turns.get(name, 0.0) - needed.get(name, 0.0) for name in FIELDS}
    height = _slopes(known, partial(height_over, springs=springs), ("limit_mm",))
    torque = _slopes(known, partial(log_torque, springs=springs), ("thickness_mm", "height_mm"))
    fill = _slopes(known, partial(log_fill, springs=springs), _RING)
    return Measures(
        height=_u(known, height, len(springs)),
        torque=_u(known, torque, len(springs)),
        fill=_u(known, fill, len(springs)),
        run=_u(known, run, len(springs)),
    )


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

    rows = np.array([np.broadcast_to(slopes.get(name, 0.0), n) for name in FIELDS])
    variance = np.einsum("in,ij,jn->n", rows, known.covariance, rows, optimize=True)
    u: Array = np.sqrt(np.maximum(variance, 0.0))
    return u
