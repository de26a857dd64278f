"""What a spring of known strength does in its barrel, worked out here and not by the package.

The strip lies wound on the hub, or run down on the wall, as a spiral whose curvature at the
distance s from the hub is

    wound  1 / sqrt(r^2 + e s / pi)          down  1 / sqrt(R^2 - L e / pi + e s / pi)

Full wind bends every element by c_0 = 2 strain / e more than it is bent free. When the torque
has fallen to E I (c_0 - c) an element has straightened by c, or by what the wall allows. Where
hub and hook begin the spiral is ``off``: r and R are those of the hub and the wall for coils
that lie as closed rings (1), half a thickness inside the gap for a true spiral (0).
``turns_by_elements`` sums the same over short pieces of strip and is the check of it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

Array: TypeAlias = npt.NDArray[np.float64]

_HALVINGS = 34
_PIECES = 160  # of the strip laid free
_DIRECTIONS = 16


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strip:
    """Many springs in their barrels, an array entry each; lengths in mm, modulus in MPa."""

    bore: Array
    arbor: Array
    thickness: Array
    length: Array
    height: Array
    modulus: Array
    strain: Array
    off: Array

    @property
    def bend(self) -> Array:
        """Curvature that full wind adds, 1/mm."""
        return 2.0 * self.strain / self.thickness

    @property
    def rigidity(self) -> Array:
        """E I in N mm^2."""
        return self.modulus * self.height * self.thickness**3 / 12.0

    @property
    def _hub(self) -> Array:
        return self.arbor / 2.0 + (1.0 - self.off) * self.thickness / 2.0

    @property
    def _wall(self) -> Array:
        return self.bore / 2.0 - (1.0 - self.off) * self.thickness / 2.0

    def _radii(self, at: Array) -> tuple[Array, Array]:
        layer = self.thickness / np.pi
        inside = self._wall**2 - self.length * layer
        return np.sqrt(self._hub**2 + at * layer), np.sqrt(inside + at * layer)

    def to_wall(self, at: Array) -> Array:
        """Return what the element at a distance from the hub may straighten by, 1/mm."""
        wound, down = self._radii(at)
        return np.asarray(1.0 / wound - 1.0 / down)

    def met_at(self, bend: Array) -> Array:
        """Return how much of the strip is free when that has straightened by a bend, mm."""
        low, high = np.zeros_like(self.length), self.length * 1.0
        for _ in range(_HALVINGS):
            middle = (low + high) / 2.0
            free = self.to_wall(middle) > bend
            low, high = np.where(free, middle, low), np.where(free, high, middle)
        return np.asarray((low + high) / 2.0)

    def turns(self, bend: Array) -> Array:
        """Return the turns given when the free part has straightened by a bend."""
        return self._turns(self.met_at(bend), bend)

    def _turns(self, free: Array, bend: Array) -> Array:
        on_wall = [
            end - here for end, here in zip(*map(self._radii, (self.length, free)), strict=True)
        ]
        return np.asarray(bend * free / (2.0 * np.pi) + (on_wall[0] - on_wall[1]) / self.thickness)

    def torque_after(self, turns: float) -> Array:
        """Return the torque in N mm after so many turns from full wind."""
        bend = 2.0 * np.pi * turns / self.length
        if np.all(bend <= self.to_wall(self.length)):
            return self._torque(bend)
        low, high = np.zeros_like(self.length), self.to_wall(0.0 * self.length)
        for _ in range(_HALVINGS):
            bend = (low + high) / 2.0
            few = self.turns(bend) < turns
            low, high = np.where(few, bend, low), np.where(few, high, bend)
        return self._torque(bend)

    def _torque(self, bend: Array) -> Array:
        return np.asarray(self.rigidity * np.maximum(self.bend - bend, 0.0))

    def turns_until(self, torque: Array) -> Array:
        """Return the turns from full wind until no more than a torque in N mm is left."""
        return self.turns(np.maximum(self.bend - torque / self.rigidity, 0.0))

    def rest(self, kept_back: Array | float = 0.0) -> tuple[Array, Array]:
        """Return turns until rest and coils that stay loose, where friction keeps back a part."""
        bend = self.bend * (1.0 - kept_back)
        free = self.met_at(bend)
        loose = (self._radii(free)[0] - self._hub) / self.thickness - bend * free / (2.0 * np.pi)
        return self._turns(free, bend), np.maximum(loose, 0.0)

    def coils_free(self) -> Array:
        """Return the coils of the spring laid free, those that curve backwards negative."""
        wound = (self._radii(self.length)[0] - self._hub) / self.thickness
        return np.asarray(wound - self.bend * self.length / (2.0 * np.pi))

    def extent(self) -> Array:
        """Return the greatest extent of the spring laid free, mm."""
        middles = (np.arange(_PIECES) + 0.5) / _PIECES
        at = self.length[:, None] * middles
        layer = self.thickness[:, None]
        hub = self._hub[:, None]
        heading = 2.0 * np.pi / layer * (np.sqrt(hub**2 + at * layer / np.pi) - hub)
        heading -= self.bend[:, None] * at
        x, y = np.cumsum(np.cos(heading), axis=1), np.cumsum(np.sin(heading), axis=1)
        widest = np.zeros_like(self.length)
        for angle in np.arange(_DIRECTIONS) * np.pi / _DIRECTIONS:
            widest = np.maximum(widest, np.ptp(np.cos(angle) * x + np.sin(angle) * y, axis=1))
        return np.asarray(widest * self.length / _PIECES)

    def part(self, index: slice | Array) -> Strip:
        """Return some of the springs."""
        return replace(self, **{name: getattr(self, name)[index] for name in self.__slots__})


def turns_by_elements(strip: Strip, bend: Array, pieces: int = 4000) -> Array:
    """Return the turns given, summed over short pieces of the first principles above."""
    at = strip.length[:, None] * (np.arange(pieces) + 0.5) / pieces
    columns = Strip(**{name: getattr(strip, name)[:, None] for name in Strip.__slots__})
    straightened = np.minimum(bend[:, None], columns.to_wall(at))
    return np.asarray(straightened.sum(axis=1) * strip.length / pieces / (2.0 * np.pi))
