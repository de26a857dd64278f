"""The two length units a gauge can show, and the only factor between them.

How the name of a measurand, an input or an influence is said.
"""

from __future__ import annotations

import re
from decimal import Decimal
from enum import StrEnum
from functools import lru_cache

MM_PER_INCH = Decimal("25.4")  # exact since 1959; ISO 31-1 annex B


class LengthUnit(StrEnum):
    """A unit that a gauge may display and send."""

    MM = "mm"
    INCH = "in"


def to_mm(value: Decimal, unit: LengthUnit) -> float:
    """Convert a displayed value to millimetres.

    Args:
        value: digits as the gauge sent them.
        unit: the unit they are in.

    Returns:
        The length in mm.
    """
    return float(value * MM_PER_INCH if unit is LengthUnit.INCH else value)


def step_mm(value: Decimal, unit: LengthUnit, *, counts: int = 1) -> float:
    """Return the digital step in mm of a display, from the last digit of what it shows.

    ``Decimal("12.340")`` in mm has a step of 0.001 mm.

    Args:
        value: digits as the gauge sent them.
        unit: the unit they are in.
        counts: by how much the last digit moves at a step.
    """
    exponent = value.as_tuple().exponent
    return _step_mm(exponent if isinstance(exponent, int) else 0, unit, counts)


@lru_cache
def _step_mm(exponent: int, unit: LengthUnit, counts: int) -> float:
    return to_mm(Decimal(counts).scaleb(exponent), unit)


_BEFORE_A_WORD = re.compile(r"\.(?=[a-z])")  # not the point of a number


def spoken(name: str) -> str:
    """Return a name in words; a number in it stays whole.

    >>> spoken("found_height"), spoken("ratio-30.turns_usable"), spoken("length_5.01_mm")
    ('found height', 'ratio-30 turns usable', 'length 5.01 mm')
    """
    return _BEFORE_A_WORD.sub(" ", name).replace("_", " ")


def percent(part: float) -> str:
    """Write a probability or a share, without claiming certainty: ``97 %``, ``over 99 %``.

    >>> percent(0.97), percent(0.9999), percent(0.0)
    ('97 %', 'over 99 %', 'under 1 %')
    """
    if part > 0.995:
        return "over 99 %"
    return "under 1 %" if part < 0.005 else f"{100 * part:.0f} %"
