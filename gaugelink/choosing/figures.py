"""The figures of the picks, out of the draws of the contenders."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gaugelink.choosing.acting import bare_barrel, in_barrel, working_turns
from gaugelink.choosing.case import Case
from gaugelink.choosing.drawn import Drawn
from gaugelink.choosing.measures import fill_of
from gaugelink.choosing.springs import Positions
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.motion import Expected, expected_amplitude
from gaugelink.mechanics.torque import ring_turns
from gaugelink.uncertainty.coverage import Interval
from gaugelink.uncertainty.estimate import Estimate

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
    from gaugelink.uncertainty.estimate import Array


class Figures:
    """What the contenders do, each with its uncertainty.

    Args:
        case: barrel and stock.
        at: positions of the contenders in the stock.
        drawn: the draws of them.
        coverage: coverage probability of the intervals.
    """

    def __init__(self, case: Case, at: Positions, drawn: Drawn, coverage: float) -> None:
        self._case, self._drawn, self._coverage = case, drawn, coverage
        springs, state = case.fitted.springs.taken(at), case.known.best
        self._turns = _row(ring_turns(bare_barrel(state, springs)))
        working = working_turns(in_barrel(state, springs, case.watch), case.watch.stopwork)
        self._working, self._fill = _row(working), _row(fill_of(state, springs))

    def probability_fits(self, j: int) -> float | None:
        """Return the probability that a contender is no higher than it may be: JCGM 106."""
        fits = self._drawn.fits
        return None if fits is None else float(fits[:, j].mean())

    def turns(self, j: int) -> Estimate:
        """Return the development turns, coils as rings."""
        return self._estimate("turns", self._turns[j], self._drawn.turns[:, j])

    def turns_usable(self, j: int) -> Estimate:
        """Return the turns that drive the watch."""
        return self._estimate("turns_usable", self._working[j], self._drawn.working[:, j])

    def hours(self, j: int) -> Estimate | None:
        """Return how long the watch runs, an upper limit: friction is left out."""
        per_turn = self._case.watch.hours_per_turn
        if per_turn is None:
            return None
        drawn = self._drawn.working[:, j] * per_turn
        return self._estimate("hours", self._working[j] * per_turn, drawn, unit="h")

    def fill(self, j: int) -> Estimate:
        """Return the part of the ring that is covered."""
        return self._estimate("fill", self._fill[j], self._drawn.fill[:, j])

    def torque_ratio(self, j: int) -> Band:
        """Return torque over that of the reference when the watch is wound.

        From where the lower limit of ``mechanics.torque_ratio`` is at its lowest to where
        the upper is at its highest, in the coverage interval.
        """
        return self._reach(self._drawn.torque_low[:, j], self._drawn.torque_high[:, j])

    def expected(self, j: int) -> Expected | None:
        """Return the amplitudes to expect; None where none was measured."""
        low, high = self._drawn.from_found_low, self._drawn.from_found_high
        measured = self._case.inputs.barrel.amplitude
        if measured is None or low is None or high is None:
            return None
        return expected_amplitude(measured.amplitude_deg, self._reach(low[:, j], high[:, j]))

    def _reach(self, low: Array, high: Array) -> Band:
        least, _ = Interval.SYMMETRIC.of(low.copy(), self._coverage)
        _, most = Interval.SYMMETRIC.of(high.copy(), self._coverage)
        return Band(low=least, high=most)

    def _estimate(self, label: str, value: float, drawn: Array, *, unit: str = "1") -> Estimate:
        low, high = Interval.SYMMETRIC.of(drawn.copy(), self._coverage)
        return Estimate(
            label=label,
            value=value,
            u=float(drawn.std(ddof=1)),
            dof=math.inf,
            unit=unit,
            low=low,
            high=high,
        )


def _row(values: Number) -> list[float]:
    import numpy as np

    row: list[float] = np.asarray(values, dtype=float).tolist()
    return row
