"""What a spring of the stock can be at all: the rows beyond are typing errors."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

MOST_ON_HAND = 1_000_000  # common sense: more is a number that slipped into the column


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The least and the greatest size in mm, and what a value beyond may have meant.

    ``meant`` gives units, as a person writes them, and their length in mm.
    """

    low_mm: float
    high_mm: float
    meant: Mapping[str, float]

    def hold(self, value_mm: float) -> bool:
        """Tell whether a size lies within."""
        return self.low_mm <= value_mm <= self.high_mm


# Common practice: springs from the smallest ladies' movements to clocks with a barrel.
LIMITS: Mapping[str, Limits] = {
    "height": Limits(low_mm=0.3, high_mm=20.0, meant={"/100 mm": 0.01, "/10 mm": 0.1, " in": 25.4}),
    "thickness": Limits(
        low_mm=0.02, high_mm=0.6, meant={"/100 mm": 0.01, "/1000 mm": 0.001, " in": 25.4}
    ),
    "length": Limits(low_mm=50.0, high_mm=3000.0, meant={" cm": 10.0, " in": 25.4}),
}


def fault_of_size(column: str, value_mm: float) -> str:
    """Return why a size in mm cannot be, or an empty text."""
    limits = LIMITS[column]
    if limits.hold(value_mm):
        return ""
    return (
        f"{value_mm:g} mm is no {column} of a spring, which is {limits.low_mm:g} to "
        f"{limits.high_mm:g} mm (common practice)"
    )


def meant_by(column: str, text: str, number: float) -> str:
    """Return a question for a size beyond the limits that would be right in another unit.

    Args:
        column: height, thickness or length.
        text: the number as it was typed, without a unit.
        number: its value.
    """
    limits = LIMITS[column]
    for unit, unit_mm in limits.meant.items():
        if limits.hold(number * unit_mm):
            return f"Is it {text}{unit}?"
    return ""
