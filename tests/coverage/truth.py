"""Simulated benches whose truth is known: what the gauges show of parts of known size.

    indication = round(met + gauge + shift + zero(t) + scatter + miss + blunder)

``met`` is what the faces meet, see ``parts``. The errors of gauge and faces are drawn once
a bench, and shared by all measurands of the gauge. So the coverage is an average over
gauges, which is what a limit of error can promise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from parts import Array, Forms, Parts, draw_parts
from scenarios import Gauge, Scenario

Mask: TypeAlias = npt.NDArray[np.bool_]

EXTRA = 8  # readings in reserve, for reviews that ask for more
CHECK_READINGS = 10  # of a known length, and with closed faces, when a gauge was checked
KNOWN_LENGTH_MM = 10.0
U_CERTIFICATE_STEPS = 1.0
# A blunder is this many times the scatter or the step, whichever is larger.
BLUNDER = (5.0, 30.0)
# A bore that is not rocked to its maximum reads low, an arbor off its minimum high.
BLUNDER_SIDE = {"bore": -1.0, "arbor": 1.0}
SERVED_BY_MICROMETER = ("lid", "found_thickness", "found_height")
SERVED = ("bore", "depth", "lid", "arbor", "found_thickness", "found_height")  # plan order
INSIDE, DEPTH = "inside", "depth"
FACES = {"bore": INSIDE, "depth": DEPTH}  # all others: outside


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Benches:
    """Many benches of one scenario, an array entry each; all lengths in mm.

    Args:
        scenario: what kind of bench.
        parts: the true sizes.
        readings: indications by measurand, the reserve in the last columns.
        wrong: which of them are blunders.
        zeros: indications with closed jaws before and after, by gauge.
        check_zeros: indications with closed jaws in the last check of each gauge.
        check_readings: indications of a known length in that check.
        scatter: standard deviation of one reading, by measurand.
        closing: standard deviation of one closing of the jaws, by gauge.
    """

    scenario: Scenario
    parts: Parts
    readings: Mapping[str, Array]
    wrong: Mapping[str, Mask]
    zeros: Mapping[str, Array]
    check_zeros: Mapping[str, Array]
    check_readings: Mapping[str, Array]
    scatter: Mapping[str, Array]
    closing: Mapping[str, Array]


def owner(measurand: str, scenario: Scenario) -> Gauge:
    """Return the gauge that serves a measurand."""
    if scenario.micrometer is not None and measurand in SERVED_BY_MICROMETER:
        return scenario.micrometer
    return scenario.caliper


def served_by(gauge: Gauge, scenario: Scenario) -> list[str]:
    """Return what a gauge measures, in the order of the plan."""
    return [name for name in SERVED if owner(name, scenario) == gauge]


@lru_cache(maxsize=64)
def reading_times(name: str, scenario: Scenario) -> Array:
    """Return when readings are taken, 0 at the first zero of the gauge and 1 at its last.

    Those in reserve are squeezed in before the next measurand.
    """
    served = served_by(owner(name, scenario), scenario)
    planned = (np.arange(scenario.n) + 0.5) / scenario.n
    times = np.concatenate([planned, np.full(EXTRA, planned[-1])])
    return np.asarray((served.index(name) + times) / len(served))


def simulate_benches(
    scenario: Scenario, n_benches: int, seed: int, scatter: float = 1.0
) -> Benches:
    """Draw benches of a scenario.

    Args:
        scenario: what kind of bench.
        n_benches: how many.
        seed: the same seed draws the same benches.
        scatter: factor on the scatter of the readings and on the form of the parts; 1 is
            the scenario's own.
    """
    rng = np.random.default_rng([seed, int.from_bytes(scenario.name.encode(), "big")])
    parts = draw_parts(n_benches, rng)
    hand = _Hand(scenario, n_benches, scatter, rng)
    taken = {
        name: hand.take(name, parts.truth[name.replace("_", ".")], owner(name, scenario))
        for name in SERVED
    }
    return Benches(
        scenario=scenario,
        parts=parts,
        readings={name: each.readings for name, each in taken.items()},
        wrong={name: each.wrong for name, each in taken.items()},
        scatter={name: each.scatter for name, each in taken.items()},
        closing={gauge.gauge_id: hand.closing(gauge) for gauge in scenario.gauges},
        zeros={gauge.gauge_id: hand.zeros(gauge) for gauge in scenario.gauges},
        check_zeros={g.gauge_id: hand.check_zeros(g) for g in scenario.gauges},
        check_readings={g.gauge_id: hand.check_readings(g) for g in scenario.gauges},
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _TakenReadings:
    """Readings of one measurand, which of them are blunders, and their scatter."""

    readings: Array
    wrong: Mask
    scatter: Array


class _Hand:
    """The gauges of the benches, with their errors, and the hand that uses them."""

    def __init__(
        self, scenario: Scenario, n_benches: int, scatter: float, rng: np.random.Generator
    ) -> None:
        self._scenario = scenario
        self._n = n_benches
        self._scatter = scatter
        self._rng = rng
        self._forms = Forms(scenario, n_benches, scatter, rng)
        self._error = {gauge: self._error_of(gauge) for gauge in scenario.gauges}
        self._shift = {
            (gauge, face): self._within(gauge.shift_mpe_mm)
            for gauge in scenario.gauges
            for face in (INSIDE, DEPTH)
        }
        self._zero = {gauge: self._within(2.0 * gauge.step_mm) for gauge in scenario.gauges}
        self._walk = {
            gauge: scenario.zero_drift_steps * gauge.step_mm * rng.standard_normal(n_benches)
            for gauge in scenario.gauges
        }
        at_zero = float(scenario.hand_at_zero)
        self._closing = {gauge: at_zero * self._sigma(gauge)[:, None] for gauge in scenario.gauges}

    def take(self, name: str, truth: Array, gauge: Gauge) -> _TakenReadings:
        """Take the readings of one measurand."""
        shape = (self._n, self._scenario.n + EXTRA)
        values = self._forms.met(name, truth, gauge, shape[1])
        values += (self._error[gauge] + self._shift.get((gauge, FACES.get(name, "")), 0.0))[:, None]
        values += self._zero_at(gauge, reading_times(name, self._scenario))
        scatter = self._sigma(gauge)
        values += scatter[:, None] * self._rng.standard_normal(shape)
        if self._scenario.missed_mm and name in BLUNDER_SIDE:
            missed_mm = self._scatter * self._scenario.missed_mm
            values += BLUNDER_SIDE[name] * missed_mm * self._rng.standard_exponential(shape)
        wrong = self._rng.random(shape) < self._scenario.outlier_share
        size = self._rng.uniform(*BLUNDER, shape) * np.maximum(scatter[:, None], gauge.step_mm)
        side = BLUNDER_SIDE.get(name) or self._rng.choice([-1.0, 1.0], shape)
        readings = _displayed(values + np.where(wrong, side * size, 0.0), gauge.step_mm)
        return _TakenReadings(readings=readings, wrong=wrong, scatter=scatter)

    def closing(self, gauge: Gauge) -> Array:
        """Return how the closed jaws scatter."""
        return self._closing[gauge][:, 0]

    def zeros(self, gauge: Gauge) -> Array:
        """Close the jaws before and after the job; closing scatters as well."""
        values = self._zero_at(gauge, np.array([0.0, 1.0]))
        return _displayed(values + self._closings(gauge, 2), gauge.step_mm)

    def check_zeros(self, gauge: Gauge) -> Array:
        """Close the jaws again and again, long before the job."""
        place = self._within(gauge.step_mm)[:, None]
        return _displayed(place + self._closings(gauge, CHECK_READINGS), gauge.step_mm)

    def check_readings(self, gauge: Gauge) -> Array:
        """Read one place of a known length again and again, long before the job."""
        place = KNOWN_LENGTH_MM + self._within(gauge.step_mm)[:, None]
        scatter = self._rng.standard_normal((self._n, CHECK_READINGS))
        return _displayed(place + self._sigma(gauge)[:, None] * scatter, gauge.step_mm)

    def _closings(self, gauge: Gauge, count: int) -> Array:
        scatter = self._rng.standard_normal((self._n, count))
        return np.asarray(self._closing[gauge] * scatter, dtype=np.float64)

    def _error_of(self, gauge: Gauge) -> Array:
        if gauge.calibrated:
            return U_CERTIFICATE_STEPS * gauge.step_mm * self._rng.standard_normal(self._n)
        return self._within(gauge.mpe_mm)

    def _within(self, half_width: float) -> Array:
        return self._rng.uniform(-half_width, half_width, self._n)

    def _sigma(self, gauge: Gauge) -> Array:
        if self._scenario.hand_mm is not None:
            return np.full(self._n, self._scatter * self._scenario.hand_mm)
        low, high = self._scenario.step_per_scatter
        return self._scatter * gauge.step_mm / self._rng.uniform(low, high, self._n)

    def _zero_at(self, gauge: Gauge, times: Array) -> Array:
        return self._zero[gauge][:, None] + self._walk[gauge][:, None] * times


def _displayed(values: Array, step_mm: float) -> Array:
    return np.asarray(np.round(values / step_mm) * step_mm, dtype=np.float64)
