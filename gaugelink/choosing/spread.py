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
from itertools import product
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


def _own_run(state: BarrelState, springs: Springs, watch: Watch) -> Array:
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


def _common_run(known: KnownState, springs: Springs, watch: Watch) -> Array:
    turns = _slopes(known, partial(log_turns, springs=springs, watch=watch), (*_RING, "shape"))
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
