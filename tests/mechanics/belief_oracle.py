"""What may be of a found spring once more, by a million joint draws with weights.

Calls nothing of ours: strength, what is left of it, modulus and sizes are drawn, and so are
the play at hub and hook and the friction at rest; each draw is weighed by how well it shows
what was seen. Judgements are those of the room: a healthy spring with a probability of a half,
else 0.55 to 1 of it left; friction holds back up to 8 %.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from clip_oracle import ClipOracle
from scipy.special import expit

Array = npt.NDArray[np.float64]
DRAWS = 1_000_000
GRAVITY = 9.80665e-3  # N for a gram


@dataclass(frozen=True)
class Seen:
    """Value and standard uncertainty of each sign; None where nobody looked."""

    free_coils: tuple[float, float] | None = None
    extent_mm: tuple[float, float] | None = None
    loose_coils: float | None = None
    barrel_turns: tuple[float, float] | None = None
    torque_nmm: tuple[float, float] | None = None  # half a turn below full wind, part for u
    s_seen: bool | None = None


@dataclass(frozen=True)
class Sizes:
    """Sizes in mm, with the standard uncertainties of each.

    ``play`` is what hub, hook and eye take or leave of a count of coils, up to so many either
    way; ``filled`` how much of the wedges at hub and wall they fill, 0 none and 1 all, up to so
    much either way.
    """

    bore: float = 11.0
    arbor: float = 11 / 3
    thickness: float = 0.126
    length: float = 380.0
    height: float = 1.2
    play: float = 0.3
    filled: float = 0.0
    u: dict[str, float] = field(default_factory=dict)


class Belief(NamedTuple):
    strain: Array
    modulus: Array
    healthy: Array
    part: Array
    weight: Array

    def mean(self, values: Array) -> float:
        return float((self.weight * values).sum() / self.weight.sum())

    def u(self, values: Array) -> float:
        return math.sqrt(self.covariance(values, values))

    def covariance(self, one: Array, other: Array) -> float:
        return self.mean(one * other) - self.mean(one) * self.mean(other)

    def correlation(self, one: Array, other: Array) -> float:
        return self.covariance(one, other) / self.u(one) / self.u(other)

    @property
    def effective(self) -> float:
        """How many even draws these are worth."""
        return float(self.weight.sum() ** 2 / (self.weight**2).sum())


def believed(
    healthy: tuple[float, float, float],
    modulus_gpa: tuple[float, float],
    sizes: Sizes,
    seen: Seen,
) -> Belief:
    """Weigh the draws. ``healthy``: median, spread of the logarithm and the most, MPa."""
    rng = np.random.default_rng(11)
    median, spread, most = healthy
    stress = np.minimum(median * np.exp(spread * rng.standard_normal(DRAWS)), most)
    left = np.where(rng.random(DRAWS) < 0.5, 1.0, rng.uniform(0.55, 1.0, DRAWS))
    modulus = 1000 * rng.uniform(*modulus_gpa, DRAWS)
    strain = stress * left / modulus
    drawn: dict[str, Any] = {
        name: getattr(sizes, name) + sizes.u.get(name, 0.0) * rng.standard_normal(DRAWS)
        for name in ("bore", "arbor", "thickness", "length", "height")
    }
    weight = np.ones(DRAWS)
    for each in _weights(strain, modulus, left, drawn, sizes, seen, rng):
        weight = weight * each
    return Belief(strain, modulus, stress, left, weight)


def _normal(off: Array) -> Array:
    return np.exp(-(off**2) / 2)


def _weights(
    strain: Array,
    modulus: Array,
    left: Array,
    drawn: dict[str, Any],
    sizes: Sizes,
    seen: Seen,
    rng: np.random.Generator,
) -> Any:
    hub = rng.uniform(-sizes.play, sizes.play, DRAWS)
    filled = rng.uniform(-sizes.filled, sizes.filled, DRAWS)
    at_rest = strain * (1 - rng.uniform(0.0, 0.08, DRAWS))
    e, length = drawn["thickness"], drawn["length"]
    inner = drawn["arbor"] / 2 + (1 - filled) * e / 2
    outer = np.sqrt(inner**2 + e * length / math.pi)
    if seen.free_coils is not None:
        coils = (outer - inner) / e - strain * length / (math.pi * e) + hub
        yield _normal((coils - seen.free_coils[0]) / seen.free_coils[1])
    if seen.torque_nmm is not None:
        # all hangs free over the first half turn, which takes half of 2 pi E I / L
        full = modulus * strain * drawn["height"] * e**2 / 6
        torque = full - math.pi * modulus * drawn["height"] * e**3 / 12 / length
        part = math.hypot(seen.torque_nmm[1], 0.05)  # friction of one way
        yield _normal(np.log(torque / seen.torque_nmm[0]) / part)
    if seen.s_seen is not None:
        # seen where the strain is about nine tenths of what bends the outer end backwards
        over = np.log(strain / (0.9 * e / (2 * outer))) / 0.05
        yield expit(1.7 * over) if seen.s_seen else (left < 1.0).astype(float)
    line = np.geomspace(strain.min() * 0.9, strain.max(), 120)
    if seen.extent_mm is not None:
        few = line[::3]
        width = np.log([extent_mm(sizes, each) for each in few])
        off = np.interp(np.log(strain), np.log(few), width) - math.log(seen.extent_mm[0])
        yield _normal(off / math.hypot(0.10, seen.extent_mm[1] / seen.extent_mm[0]))
    if seen.loose_coils is not None:
        loose = _shown(ClipOracle.loose_coils, sizes, line, at_rest, filled)
        yield _normal((loose - seen.loose_coils) / 0.5)
    if seen.barrel_turns is not None:
        turns = _shown(ClipOracle.usable, sizes, line, at_rest, filled)
        u = math.hypot(0.2, seen.barrel_turns[1])
        yield _normal((turns + hub - seen.barrel_turns[0]) / u)


def _shown(
    sign: Callable[[ClipOracle], float], sizes: Sizes, line: Array, strain: Array, filled: Array
) -> Array:
    """A sign at each strain, and linear in what fills the wedges."""
    ends = (-1.0, 1.0) if sizes.filled else (0.0, 0.0)
    low, high = (
        np.interp(strain, line, [sign(clipped(sizes, each, end)) for each in line]) for end in ends
    )
    return np.asarray((low + high) / 2 + filled * (high - low) / 2)


def clipped(sizes: Sizes, strain: float, filled: float = 0.0) -> ClipOracle:
    """The spring as a true spiral between its two wedges, or with them filled."""
    e = sizes.thickness
    wedges, modulus = (1 - filled) * e, 206_000.0
    return ClipOracle(
        bore=sizes.bore - wedges,
        arbor=sizes.arbor + wedges,
        thickness=e,
        length=sizes.length,
        height=sizes.height,
        modulus=modulus,
        stress=strain * modulus,
    )


def extent_mm(sizes: Sizes, strain: float) -> float:
    """Greatest distance of two points of the free outline."""
    count, spring = 2400, clipped(sizes, strain)
    step = sizes.length / count
    along = (np.arange(count) + 0.5) * step
    bend = 1 / np.sqrt((spring.arbor / 2) ** 2 + spring.thickness * along / math.pi)
    turned = (bend - 2 * strain / spring.thickness) * step
    heading = np.cumsum(turned) - turned / 2
    outline = np.concatenate(([0.0], np.cumsum(step * np.exp(1j * heading))))[::3]
    return float(np.abs(np.subtract.outer(outline, outline)).max())
