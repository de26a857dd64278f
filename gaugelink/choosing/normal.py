"""The normal distribution over arrays, and the mean of what lies beyond a limit."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.uncertainty.estimate import Array

# M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 26.2.17: the tail beyond
# z >= 0 is the density times this series in t = 1 / (1 + p z). Off by less than 7.5e-8
# anywhere, far below what a probability or a point of the score is shown with.
_P = 0.2316419
_B = (0.319381530, -0.356563782, 1.781477937, -1.821255978, 1.330274429)

_NARROW = 1e-3  # of u: a tolerance below it changes no probability by 1e-6
_ROUNDING = 1e-9  # mm: 1.64 - 0.31 - 0.10 is not quite 1.23 in binary


def cdf(z: Array) -> Array:
    """Return the probability that a standard normal quantity lies below z."""
    import numpy as np

    size = np.abs(z)
    tail = _density(size) * _tail_over_density(size)
    return np.where(z > 0, 1 - tail, tail)


def mean_above_zero(mean: Number, u: Number) -> Array:
    """Return the mean of max(X, 0) for a normal X.

    u phi(z) + m Phi(z) with z = m / u, written as max(m, 0) + u phi(z) - |m| Phi(-|z|): two
    parts of which neither is the small difference of large ones.

    Args:
        mean: mean m of X.
        u: its standard uncertainty, 0 or more; at 0 max(m, 0) is returned.
    """
    import numpy as np

    if np.ndim(u) == 0 and u == 0:
        return np.maximum(mean, 0.0)
    uncertain = np.maximum(u, 1e-300)
    size = np.minimum(np.abs(mean) / uncertain, 40.0)  # beyond, the density is zero
    spread: Array = u * _density(size) * (1 - size * _tail_over_density(size))
    return np.maximum(mean, 0.0) + np.maximum(spread, 0.0)


def probability_below(room: Number, u: Number, tolerance: Number) -> Array:
    """Return the probability that a part within a tolerance is no more than a limit allows.

    JCGM 106:2012, clause 7, with the nominal size of the part off by anything up to the
    tolerance alike and the limit normal: the mean of Phi over the tolerance zone.

    Args:
        room: best value of the limit less the nominal size.
        u: standard uncertainty of the limit, 0 or more.
        tolerance: half-width of the tolerance zone, 0 or more, in the same unit.
    """
    import numpy as np

    room, u, tolerance = np.broadcast_arrays(
        *(np.asarray(part, dtype=float) for part in (room, u, tolerance))
    )
    known = u <= 0
    scale = np.where(known, 1.0, u)
    wide = tolerance > _NARROW * scale
    half = np.where(wide, tolerance / scale, 1.0)
    above, below = room / scale + half, room / scale - half
    mean = (mean_above_zero(above, 1.0) - mean_above_zero(below, 1.0)) / (2 * half)
    unsure = np.where(wide, mean, cdf(room / scale))
    return np.clip(np.where(known, share_below(room, tolerance), unsure), 0.0, 1.0)


def share_below(room: Array, tolerance: Array) -> Array:
    """Return the share of a tolerance zone that a known limit allows, 0 to 1.

    Args:
        room: the limit less the nominal size.
        tolerance: half-width of the zone; at 0 the size is exact, and fits at no room at all.
    """
    import numpy as np

    half = np.where(tolerance > 0, tolerance, 1.0)
    within = np.clip((room + half) / (2 * half), 0.0, 1.0)
    return np.where(tolerance > 0, within, np.where(room >= -_ROUNDING, 1.0, 0.0))


def _density(z: Array) -> Array:
    import numpy as np

    return np.exp(-z * z / 2) / math.sqrt(2 * math.pi)


def _tail_over_density(z: Array) -> Array:
    t = 1 / (1 + _P * z)
    return t * (_B[0] + t * (_B[1] + t * (_B[2] + t * (_B[3] + t * _B[4]))))
