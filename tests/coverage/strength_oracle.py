"""Intervals of an oracle that draws the truth of a bench as the study does, and weighs it.

It is given what the product is given, and knows the classes with their weights: importance
sampling from the prior, each draw weighted by how probable it makes what was counted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from hidden_strength import (
    CROWN,
    EXTENT,
    FREE,
    LOOSE,
    NAMED,
    SHAPE,
    SIZES,
    U_BARREL,
    U_CROWN,
    U_EXTENT_MM,
    U_FREE,
    U_LOOSE,
    WINDING,
    SpringBenches,
    draw_hidden,
    draw_kinds,
    outputs,
    shown,
    size_u,
)
from spring_physics import Array

from gaugelink.statistics.student import normal_quantile

DRAWS = 5000
TAIL = 0.025


@dataclass(frozen=True, slots=True, kw_only=True)
class OracleSays:
    """By label the limits of the interval, an array entry a bench."""

    low: Mapping[str, Array]
    high: Mapping[str, Array]


def oracle_intervals(benches: SpringBenches, count: int, seed: int) -> OracleSays:
    """Return the oracle's 95 % intervals of the first benches."""
    rng = np.random.default_rng([seed, 1])
    ends = [_of_bench(benches, index, rng) for index in range(count)]
    return OracleSays(
        low={label: np.array([each[label][0] for each in ends]) for label in ends[0]},
        high={label: np.array([each[label][1] for each in ends]) for label in ends[0]},
    )


def _of_bench(
    benches: SpringBenches, index: int, rng: np.random.Generator
) -> dict[str, tuple[float, float]]:
    look = benches.look
    read = {name: np.full(DRAWS, benches.read[name][index]) for name in SIZES}
    u = size_u(read)
    sizes = {name: read[name] + u[name] * rng.standard_normal(DRAWS) for name in SIZES}
    kind = draw_kinds(look.material, DRAWS, rng)
    if look.material == NAMED:
        kind = np.full(DRAWS, benches.kind[index])
    hidden = draw_hidden(look.material, kind, rng)
    would = shown(look.signs, sizes, hidden)
    logs = np.zeros(DRAWS)
    for sign, expected in would.items():
        logs += _log_likelihood(sign, float(benches.seen[sign][index]), expected)
    weight = np.exp(logs - logs.max())
    return {label: _ends(values, weight) for label, values in outputs(sizes, hidden).items()}


def _log_likelihood(sign: str, seen: float, expected: Array) -> Array:
    if sign == EXTENT:
        u = np.hypot(SHAPE, U_EXTENT_MM / expected)
        return np.asarray(-((np.log(seen / expected) / u) ** 2) / 2.0 - np.log(u))
    u = {FREE: U_FREE, LOOSE: U_LOOSE, CROWN: float(np.hypot(U_CROWN, WINDING.ratio * U_BARREL))}
    off = (seen - expected) / u[sign]
    if sign == LOOSE and seen == 0.0:  # counted as none whatever was below
        return np.asarray(np.log(np.maximum(_below(off), 1e-300)))
    return np.asarray(-(off**2) / 2.0)


_STEPS = np.linspace(0.0005, 0.9995, 1000)
_DEVIATES = np.array([normal_quantile(float(p)) for p in _STEPS])


def _below(deviate: Array) -> Array:
    """The normal distribution function, to a thousandth."""
    return np.asarray(np.interp(deviate, _DEVIATES, _STEPS))


def _ends(values: Array, weight: Array) -> tuple[float, float]:
    order = np.argsort(values)
    share = np.cumsum(weight[order]) - weight[order] / 2.0
    low, high = np.interp((TAIL * weight.sum(), (1.0 - TAIL) * weight.sum()), share, values[order])
    return float(low), float(high)
