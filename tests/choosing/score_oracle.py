"""The score of one spring, worked out slowly in plain Python from the text of the rules.

Nothing of ``gaugelink.choosing`` is imported: the terms, the derivatives and the normal
distribution are written out again, and the turns come from quadrature of the clip model
of a true spiral. Material that nobody states, from materials.toml: E 181 to 221 GPa, nominal
stress lognormal about 2450 MPa with 0.18, no more than 4500 MPa, and for the turns of a spring
in the stock that of the weakest it may be of. Here the strength of the
reference and that of the strip in the stock are independent: nobody knows that they are of one.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

E_MPA = (181_000 + 221_000) / 2
MEDIAN_MPA, SPREAD, MOST_MPA = 2450.0, 0.18, 4500.0
# Of the weakest that a spring may be of, blued steel.
STEEL_E_MPA = (200_000 + 208_000) / 2
STEEL_MPA = (2200.0, 0.10, 3000.0)
POINTS = 3000


def strip_mpa(
    deviate: float, of: tuple[float, float, float] = (MEDIAN_MPA, SPREAD, MOST_MPA)
) -> float:
    """Stress of strip so many standard uncertainties of its logarithm above the median."""
    median, spread, most = of
    return min(median * math.exp(spread * deviate), most)


def reference_mpa(steps: int = 4001) -> tuple[float, float]:
    """Mean and standard deviation of it over a normal deviate, by a plain sum."""
    deviates = [8 * i / (steps - 1) - 4 for i in range(steps)]
    weights = [math.exp(-z * z / 2) for z in deviates]
    mean = sum(w * strip_mpa(z) for w, z in zip(weights, deviates, strict=True)) / sum(weights)
    off = sum(w * (strip_mpa(z) - mean) ** 2 for w, z in zip(weights, deviates, strict=True))
    return mean, math.sqrt(off / sum(weights))


@dataclass(frozen=True, kw_only=True)
class State:
    bore: float
    arbor: float
    limit: float
    e_ref: float
    h_ref: float | None
    length_ref: float | None
    stress: float
    deviate: float = 0.0
    modulus: float = E_MPA


@dataclass(frozen=True, kw_only=True)
class Strip:
    height: float
    thickness: float
    length: float


def usable(state: State, e: float, length: float, stress: float) -> float:
    """Turns that torque lasts for, by the midpoint rule; two wedges of a spiral are empty."""
    return _turns(state.bore - e, state.arbor + e, stress / state.modulus, e, length)


@functools.cache
def _turns(bore: float, arbor: float, strain: float, e: float, length: float) -> float:
    r, wall, x = arbor / 2, bore / 2, length * e / math.pi
    if x >= wall**2 - r**2:
        return 0.0
    free = 2 * strain / e
    total = 0.0
    for i in range(POINTS):
        u = x * (i + 0.5) / POINTS
        total += min(1 / math.sqrt(r**2 + u) - 1 / math.sqrt(wall**2 - x + u), free)
    return total / POINTS * length / (2 * math.pi)


def measures(state: State, strip: Strip, hours_per_turn: float | None) -> dict[str, float]:
    ring = math.pi * (state.bore**2 - state.arbor**2) / 4
    reference = usable(state, state.e_ref, state.length_ref, state.stress)
    needed = 0.9 * reference if hours_per_turn is None else min(reference, 36 / hours_per_turn)
    steel = replace(state, modulus=STEEL_E_MPA)
    turns = usable(steel, strip.thickness, strip.length, strip_mpa(state.deviate, STEEL_MPA))
    return {
        "height": strip.height - state.limit,
        "torque": (math.log(strip.height / state.h_ref) if state.h_ref else 0.0)
        + 2.5 * math.log(strip.thickness / state.e_ref),
        "fill": math.log(strip.length * strip.thickness / ring),
        "run": math.log(max(turns, 0.05)) - math.log(max(needed, 0.05)),
    }


def hinge(mean: float, u: float) -> float:
    if u == 0:
        return max(mean, 0.0)
    z = mean / u
    return u * math.exp(-z * z / 2) / math.sqrt(2 * math.pi) + mean * (
        0.5 * math.erfc(-z / math.sqrt(2))
    )


def score(
    state_of: Callable[[dict[str, float]], State],
    inputs: dict[str, tuple[float, float]],
    strip: Strip,
    tolerances: Strip,
    zone: tuple[float, float],
    hours_per_turn: float | None,
) -> float:
    """Expected loss: inputs by name with value and u, independent."""
    best = {name: value for name, (value, _) in inputs.items()}
    at_best = measures(state_of(best), strip, hours_per_turn)
    variance = dict.fromkeys(at_best, 0.0)
    for name, (value, u) in inputs.items():
        if u:
            moved = [
                measures(state_of({**best, name: value + sign * u}), strip, hours_per_turn)
                for sign in (1, -1)
            ]
            for measure in variance:
                variance[measure] += ((moved[0][measure] - moved[1][measure]) / 2) ** 2
    for name in ("height", "thickness", "length"):
        off = getattr(tolerances, name) / math.sqrt(3)
        moved = [
            measures(
                state_of(best),
                replace(strip, **{name: getattr(strip, name) + sign * off}),
                hours_per_turn,
            )
            for sign in (1, -1)
        ]
        for measure in variance:
            variance[measure] += ((moved[0][measure] - moved[1][measure]) / 2) ** 2
    u = {measure: math.sqrt(v) for measure, v in variance.items()}
    m = at_best
    return (
        100 * hinge(-m["torque"], u["torque"])
        + 110 * hinge(m["torque"], u["torque"])
        + 400 * hinge(m["height"], u["height"])
        + 100 * hinge(-m["height"] - 0.10, u["height"])
        + 50 * hinge(math.log(zone[0]) - m["fill"], u["fill"])
        + 50 * hinge(m["fill"] - math.log(zone[1]), u["fill"])
        + 100 * hinge(-m["run"], u["run"])
    )
