"""How far a spring may be off its nominal size where the list of springs does not say."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from enum import StrEnum
from importlib.resources import files
from typing import TYPE_CHECKING

from gaugelink.mechanics.materials import Row, rows

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array


class Grade(StrEnum):
    """How closely the strip was rolled: three grades of the standard, and what is usual."""

    NORMAL = "normal"
    FINE = "fine"
    PRECISION = "precision"
    WATCH = "watch"


WATCH_THICKNESS_MM = 0.002  # from memory
HEIGHT_MM = 0.02  # from memory; slit strip as bought may be +0.2 mm
LENGTH_PART = 0.01  # judgement: what cutting to length leaves


@dataclass(frozen=True, slots=True, kw_only=True)
class StripRow:
    """The tolerances of one range of thickness: in mm, or parts of it where ``relative``."""

    low_mm: float
    high_mm: float
    relative: bool
    tolerance: dict[Grade, float]


@functools.cache
def strip_table() -> tuple[StripRow, ...]:
    """Return the tolerances of narrow cold-rolled strip: ISO 9445-1 and EN 10258."""
    text = files("gaugelink.choosing").joinpath("strip.toml").read_text(encoding="utf-8")
    return tuple(_row(row) for row in rows(text, "strip", path="strip.toml"))


def thickness_tolerance_mm(thickness_mm: Array, grade: Grade) -> Array:
    """Return how far strip of these thicknesses may be off either way, in mm.

    Below the table its first row holds, above it the last one.

    Args:
        thickness_mm: nominal thicknesses.
        grade: how closely it was rolled.
    """
    import numpy as np

    if grade is Grade.WATCH:
        return np.full_like(thickness_mm, WATCH_THICKNESS_MM)
    table = strip_table()
    # The limits are decimals: 0.15 typed is a hair below 0.15 computed.
    limits = [row.high_mm - 1e-9 for row in table[:-1]]
    where = np.searchsorted(limits, thickness_mm, side="right")
    stated = np.array([row.tolerance[grade] for row in table])[where]
    relative = np.array([row.relative for row in table])[where]
    return np.where(relative, stated * thickness_mm, stated)


def _row(row: Row) -> StripRow:
    limits = row.take_band("thickness")
    grades = (Grade.NORMAL, Grade.FINE, Grade.PRECISION)
    read = StripRow(
        low_mm=limits.low,
        high_mm=limits.high,
        relative=row.take("relative", bool),
        tolerance={grade: row.take_band(grade.value).high for grade in grades},
    )
    row.close()
    return read
