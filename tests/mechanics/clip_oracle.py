"""The clip model once more, by adaptive quadrature and root finding; calls nothing of ours.

kappa(s; M) = clip(kappa_0 + M / (E I), kappa_d, kappa_w), where kappa_0 is the free
curvature that full wind bends evenly.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from scipy.integrate import quad
from scipy.optimize import brentq


@dataclass(frozen=True)
class ClipOracle:
    bore: float
    arbor: float
    thickness: float
    length: float
    height: float
    modulus: float
    stress: float

    @property
    def rigidity(self) -> float:
        return self.modulus * self.height * self.thickness**3 / 12

    @property
    def full_wind(self) -> float:
        return self.stress * self.height * self.thickness**2 / 6

    def wound(self, s: float) -> float:
        return float(((self.arbor / 2) ** 2 + self.thickness * s / math.pi) ** -0.5)

    def down(self, s: float) -> float:
        to_outer = self.length - s
        return float(((self.bore / 2) ** 2 - self.thickness * to_outer / math.pi) ** -0.5)

    def free(self, s: float) -> float:
        return self.wound(s) - self.full_wind / self.rigidity

    def taken(self, s: float, torque: float) -> float:
        wish = self.free(s) + torque / self.rigidity
        return min(max(wish, self.down(s)), self.wound(s))

    def border(self, torque: float) -> list[float]:
        """Where an element begins to lie on the wall; nowhere if all do or none does."""

        def off_the_wall(s: float) -> float:
            return self.free(s) + torque / self.rigidity - self.down(s)

        if off_the_wall(0.0) * off_the_wall(self.length) >= 0:
            return []
        return [float(brentq(off_the_wall, 0.0, self.length, xtol=1e-12))]

    def turns_given(self, torque: float) -> float:
        return self._over(lambda s: self.wound(s) - self.taken(s, torque), torque) / (2 * math.pi)

    def usable(self) -> float:
        return self.turns_given(0.0)

    def torque_after(self, turns: float) -> float:
        if turns >= self.usable():
            return 0.0
        return float(brentq(lambda m: self.turns_given(m) - turns, 0.0, self.full_wind, xtol=1e-12))

    def stored(self, torque: float) -> float:
        """Elastic energy, N mm."""
        bent = self._over(lambda s: (self.taken(s, torque) - self.free(s)) ** 2, torque)
        return self.rigidity / 2 * bent

    def loose_coils(self) -> float:
        """Coils that are off the wall at no torque."""

        def off(s: float) -> float:
            return self.taken(s, 0.0) if self.free(s) > self.down(s) else 0.0

        return self._over(off, 0.0) / (2 * math.pi)

    def _over(self, f: Callable[[float], float], torque: float) -> float:
        """Integrate along the strip, piece by piece where it meets the wall."""
        ends = [0.0, *self.border(torque), self.length]
        pieces = pairwise(ends)
        return math.fsum(quad(f, a, b, limit=200, epsabs=1e-11, epsrel=1e-10)[0] for a, b in pieces)
