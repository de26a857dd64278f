"""The parts of the simulated benches, and what their form adds to a reading.

What the product takes an influence to be is drawn here as exactly that: the width of
unmeasured jaw flats, the film on a spring, the plane of the rim, the warmth of the bench.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from scenarios import Gauge, Scenario

from gaugelink.gauge_record import Anvils
from gaugelink.sizing.inputs import (
    ARBOR_PER_BORE,
    ASSUMED_ARBOR_SPREAD,
    CLEARANCE,
    DEFAULT_U_OF_LENGTH,
    GivenSpring,
    SizingInputs,
    quantities,
)
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape
from gaugelink.uncertainty.measurand_model import (
    BENCH_WITHIN_K,
    BRASS,
    DEPTH_PLANE_MM,
    HUB_UNSEEN_MM,
    MOST_READ_HIGH_MM,
    STEEL,
    WIDEST_ASSUMED_MM,
    PartMaterial,
)

Array: TypeAlias = npt.NDArray[np.float64]
Values: TypeAlias = dict[str, Array]

MATERIAL = {"arbor": STEEL, "found_thickness": STEEL, "found_height": STEEL}  # all others: brass
KNOWN_FLATS_MM, U_FLATS_MM = 0.30, 0.02
CALIBRATED_ANVILS = Anvils.BALL


_EXACT = SizingInputs(
    bore=Quantity(label="bore", value=11.0),
    found=GivenSpring(thickness=Quantity(label="found.thickness", value=0.126)),
)
# What the sizing takes from tables and judgement: of the spring's material, for instance.
ASSUMED = tuple(
    quantity
    for quantity in quantities(_EXACT)
    if quantity.label not in ("bore", "arbor", "clearance", "found.thickness")
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """True values by input of the sizing, lengths in mm, and what is typed for the length."""

    truth: Mapping[str, Array]
    typed_length: Array


def draw_parts(n_benches: int, rng: np.random.Generator) -> Parts:
    """Draw barrels with their springs; the ranges are wide against a display step."""
    bore = rng.uniform(10.5, 11.5, n_benches)
    guess = 1.0 + rng.uniform(-ASSUMED_ARBOR_SPREAD, ASSUMED_ARBOR_SPREAD, n_benches)
    length = bore * rng.uniform(32.0, 36.0, n_benches)
    truth = {
        "bore": bore,
        "depth": rng.uniform(1.8, 2.0, n_benches),
        "lid": rng.uniform(0.30, 0.40, n_benches),
        "arbor": bore * ARBOR_PER_BORE * guess,
        "found.thickness": bore / 87.0 * rng.uniform(0.95, 1.05, n_benches),
        "found.height": rng.uniform(1.30, 1.40, n_benches),
        "found.length": length,
        "clearance": np.full(n_benches, CLEARANCE.value),
        **{quantity.label: _drawn(quantity, n_benches, rng) for quantity in ASSUMED},
    }
    typed = length * (1.0 + DEFAULT_U_OF_LENGTH * rng.standard_normal(n_benches))
    return Parts(truth=truth, typed_length=typed)


def _drawn(quantity: Quantity, n_benches: int, rng: np.random.Generator) -> Array:
    """Draw a quantity as it is stated."""
    value = np.full(n_benches, quantity.value)
    for term in quantity.terms:
        value += term.factor * term.influence.u * _standardised(term.influence, n_benches, rng)
    return value


def _standardised(influence: Influence, size: int, rng: np.random.Generator) -> Array:
    if influence.shape is Shape.RECTANGULAR:
        return np.sqrt(3.0) * rng.uniform(-1.0, 1.0, size)
    if influence.shape is Shape.NORMAL:
        return rng.standard_normal(size)
    if influence.shape is Shape.TABULATED:
        at = np.linspace(0.0, 1.0, len(influence.quantiles))
        return np.interp(rng.random(size), at, influence.quantiles) / influence.u
    raise ValueError(f"{influence.label} is not drawn")


class Forms:
    """What part, faces and bench add to the readings of each measurand."""

    def __init__(
        self, scenario: Scenario, n_benches: int, scale: float, rng: np.random.Generator
    ) -> None:
        self._scale = scale
        self._scenario = scenario
        self._n = n_benches
        self._rng = rng
        self._too_warm_k = self._within(BENCH_WITHIN_K)
        self._alpha_gauge = self._alpha(STEEL)

    def met(self, name: str, truth: Array, gauge: Gauge, n_readings: int) -> Array:
        """Return the lengths that the faces meet in mm, a column a reading."""
        size = truth[:, None] + self._around(name, n_readings)
        size = size * (1.0 + self._expansion(MATERIAL.get(name, BRASS)))[:, None]
        if name == "bore":
            return np.sqrt(size**2 - self._flats(gauge)[:, None] ** 2)
        return np.asarray(size + self._offset(name, gauge)[:, None], dtype=np.float64)

    def _expansion(self, material: PartMaterial) -> Array:
        return (self._alpha(material) - self._alpha_gauge) * self._too_warm_k

    def _alpha(self, material: PartMaterial) -> Array:
        return material.alpha_per_k + self._within(material.half_width_per_k)

    def _flats(self, gauge: Gauge) -> Array:
        if gauge.calibrated:
            return KNOWN_FLATS_MM + U_FLATS_MM * self._rng.standard_normal(self._n)
        return self._rng.uniform(0.0, WIDEST_ASSUMED_MM, self._n)

    def _offset(self, name: str, gauge: Gauge) -> Array:
        if name == "depth":
            return self._within(DEPTH_PLANE_MM)
        if name == "arbor" and not self._scenario.hub_rise_mm:
            return self._within(HUB_UNSEEN_MM)
        if name == "found_thickness":
            anvils = CALIBRATED_ANVILS if gauge.calibrated else Anvils.FLAT
            return self._rng.uniform(0.0, MOST_READ_HIGH_MM[anvils], self._n)
        return np.zeros(self._n)

    def _around(self, name: str, n_readings: int) -> Array:
        """Turn the part by hand before each reading: anywhere, not counted off."""
        shape = (self._n, n_readings)
        if name == "bore":
            oval = self._rng.uniform(
                0.0, self._scale * self._scenario.out_of_round_mm / 2.0, (self._n, 1)
            )
            return np.asarray(oval * np.cos(self._rng.uniform(0.0, 2.0 * np.pi, shape)))
        if name == "arbor":
            rise = self._rng.uniform(0.0, self._scale * self._scenario.hub_rise_mm, (self._n, 1))
            return np.asarray(rise * self._rng.uniform(-0.5, 0.5, shape), dtype=np.float64)
        return np.zeros(shape)

    def _within(self, half_width: float) -> Array:
        return self._rng.uniform(-half_width, half_width, self._n)
