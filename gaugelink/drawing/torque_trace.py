"""A torque curve as it is drawn: points with a band, and what lies between the points."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass

DAY_HOURS = 24.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueTrace:
    """A torque curve with its band, point by point; torques in N mm, turns rising from 0.

    The last point is where the spring stops.
    """

    name: str
    turns: tuple[float, ...]
    low_nmm: tuple[float, ...]
    middle_nmm: tuple[float, ...]
    high_nmm: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse curves of different lengths, and curves of no length."""
        lengths = {len(self.low_nmm), len(self.middle_nmm), len(self.high_nmm), len(self.turns)}
        if len(lengths) > 1 or lengths == {0}:
            raise ValueError("turns and torques of a curve are equally many, and some")

    def torque_at(self, turns: float) -> float:
        """Return the middle torque in N mm after so many turns; 0 once the spring has stopped."""
        return value_at(turns, self.turns, self.middle_nmm)


@dataclass(frozen=True, slots=True, kw_only=True)
class TorquePlot:
    """One spring, another to compare it with, and the hours of running per barrel turn."""

    spring: TorqueTrace
    compared: TorqueTrace | None = None
    hours_per_turn: float | None = None


def value_at(at: float, places: tuple[float, ...], values: tuple[float, ...]) -> float:
    """Interpolate a curve, straight from point to point; 0 beyond its last point.

    Args:
        at: where; before the first point the first value is returned.
        places: rising, at least one.
        values: as many as there are places.
    """
    if at > places[-1]:
        return 0.0
    i = bisect_left(places, at)
    if i == 0:
        return values[0]
    part = (at - places[i - 1]) / (places[i] - places[i - 1])
    return values[i - 1] * (1 - part) + values[i] * part
