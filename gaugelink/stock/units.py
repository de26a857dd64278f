"""Lengths in the cells of a list and in its headings, in mm."""

from __future__ import annotations

import functools
import math
import re
from dataclasses import dataclass

from gaugelink.errors import InputError
from gaugelink.quantities import parse_length

_PLAIN = re.compile(r"[+-]?\d+(?:[.,]\d*)?")
_EXPONENT = re.compile(r"(?<=[\d.,])[eE](?=[+-]?\d)")
_LETTER = re.compile(r"[^\W\d_]")
_PLUS_MINUS = re.compile(r"\+-|\+/-|±")
_LONGEST = 40  # letters of a length with its unit; pint would ponder over long ones
_DECIMALS = 9  # of a mm, after a change of unit: takes off what only binary fractions left


_HINT = "Type it like 1.20, 12/100 or 0.047 in."


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadingUnit:
    """The unit that a heading gives for its column.

    Args:
        text: as it stands in the heading.
        size_mm: its length.
        is_part: whether it is a fraction, like 1/100 mm.
    """

    text: str
    size_mm: float
    is_part: bool = False


MILLIMETRE = HeadingUnit(text="mm", size_mm=1.0)


def heading_unit(text: str) -> HeadingUnit:
    """Read the unit in a heading: ``mm``, ``in``, ``1/100 mm``.

    Raises:
        InputError: not a unit of length.
    """
    spoken = text.strip()
    if len(spoken) > _LONGEST:
        raise _no_unit(text)
    counted = spoken if spoken[:1].isdigit() else f"1 {spoken}"
    if not spoken or _PLUS_MINUS.search(spoken):
        raise _no_unit(text)
    try:
        size_mm = parse_length(counted, "unit").value_mm
    except InputError as exc:
        raise _no_unit(text) from exc
    if not 0 < size_mm < math.inf:
        raise _no_unit(text)
    return HeadingUnit(text=spoken, size_mm=size_mm, is_part="/" in spoken)


@functools.lru_cache(maxsize=8192)
def cell_mm(text: str, unit: HeadingUnit = MILLIMETRE) -> float:
    """Read the length in a cell, in mm; its own unit comes before that of the heading.

    A fraction in a column of fractions stands by itself: 12/100 is 0.12 mm there as well.

    Raises:
        InputError: not one length, or an uncertainty stands with it.
    """
    if len(text) > _LONGEST:
        raise InputError(f"{quoted(text)} is not a length.", hint=_HINT)
    if _PLAIN.fullmatch(text):
        return _in_unit(float(text.replace(",", ".")), unit)
    if _PLUS_MINUS.search(text):
        raise InputError(
            f"{text!r} is more than a length.",
            hint="Put a tolerance into a column of its own, such as 'height tolerance'.",
        )
    value = _parsed(text)
    has_unit = _LETTER.search(_EXPONENT.sub("", text)) is not None
    if has_unit or (unit.is_part and "/" in text):
        return round(value, _DECIMALS)
    return _in_unit(value, unit)


def is_plain(text: str) -> bool:
    """Tell whether a cell holds a bare number, whose unit somebody may have mistaken."""
    return _PLAIN.fullmatch(text) is not None


def quoted(text: str) -> str:
    """Return a text in quotation marks, cut short where it is long."""
    return repr(text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…")


def _in_unit(value: float, unit: HeadingUnit) -> float:
    return value if unit.size_mm == 1.0 else round(value * unit.size_mm, _DECIMALS)


def _parsed(text: str) -> float:
    try:
        return parse_length(text, "cell").value_mm
    except InputError as exc:
        raise InputError(str(exc).removeprefix("cell: "), hint=_HINT) from exc


def _no_unit(text: str) -> InputError:
    return InputError(
        f"{quoted(text.strip())} is no unit of length.",
        hint="Write a unit like mm, 1/100 mm or in, in brackets after the name of the column.",
    )
