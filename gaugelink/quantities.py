"""Lengths and masses as people type them: ``11.02``, ``1 7/16 in``, ``12/100``, ``0.497 g``.

The part after ``+-`` is a standard uncertainty. Plain numbers are millimetres or
milligrams and cost nothing; pint is loaded only when another unit was typed.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gaugelink.errors import InputError

if TYPE_CHECKING:
    import pint

# The Paris line and its twelfth are still the trade's words for movement sizes;
# 1 ligne = 2.2558291 mm (1/144 of the Paris foot).
_TRADE_UNITS = ("ligne = 2.2558291 * millimeter", "douzieme = ligne / 12")

_NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?"
# An inch mark, straight, curly or as a double prime; two single ones are one as well.
UNIT_MARK = "[\"\u201c\u201d\u2033]|''|\u2019\u2019"
_PART = re.compile(
    rf"\s*(?:(?P<whole>[+-]?\d+)\s+(?=\d+\s*/))?(?P<top>{_NUMBER})(?:\s*/\s*(?P<bottom>\d+))?"
    rf"\s*(?P<unit>[^\W\d_]*|{UNIT_MARK})\s*"
)
_MARK = re.compile(UNIT_MARK)
# As typed with the capitals held down; other capitals mean another unit, as in Mm.
_CAPITALS = {"MM": "mm", "CM": "cm", "IN": "in", "In": "in", "INCH": "inch", "Inch": "inch"}
_PLUS_MINUS = re.compile(r"\+-|\+/-|±")
_TIMES = re.compile(r"\s*[xX×*]\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedLength:
    """A typed length in mm and its standard uncertainty, None when none was typed."""

    value_mm: float
    u_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedNumber:
    """A typed mass in mg or g, or a count, and its u; None when no u was typed."""

    value: float
    u: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """What a typed number may be: ``plain`` has the units that need no pint, ``base`` one for it.

    Without a ``base`` there are no other units. ``least`` and ``most`` are the sizes between which
    a number that is not zero may lie, in the plain unit. Judgement: far from anything at a bench.
    """

    what: str
    plain: Mapping[str, float]
    base: str
    unit: str
    units_hint: str
    hint: str
    least: float = 1e-6
    most: float = 1e6


_LENGTH = _Kind(
    what="length",
    plain={"": 1.0, "mm": 1.0},
    base="millimeter",
    unit="mm",
    units_hint="Units are mm, um, in, thou, ligne and whatever else measures a length.",
    hint='Type it like 11.02, "0.433 in" or "11.02 +- 0.03 mm".',
)
_MASS = _Kind(
    what="mass",
    plain={"": 1.0, "mg": 1.0, "g": 1000.0},
    base="milligram",
    unit="mg",
    units_hint="Units are mg, g, grain and whatever else measures a mass.",
    hint='Type it like 497, "0.497 g" or "497 +- 1 mg".',
)
_GRAMS = _Kind(
    what="mass",
    plain={"": 1.0, "g": 1.0, "mg": 0.001, "kg": 1000.0},
    base="gram",
    unit="g",
    units_hint="Units are g, mg, kg, oz and whatever else measures a mass.",
    hint='Type it like 119, "119 g" or "119 +- 2 g".',
)
_COUNT = _Kind(
    what="count",
    plain={"": 1.0},
    base="",
    unit="",
    units_hint="A count has no unit.",
    hint='Type it like 11.5 or "11.5 +- 0.25".',
)


def parse_length(text: str, name: str) -> TypedLength:
    """Read a length in mm, with or without unit and standard uncertainty.

    A unit after one of the two numbers holds for both.

    Args:
        text: what was typed.
        name: what it is, for the error message.

    Raises:
        InputError: not a number, not a unit of length, or an uncertainty below zero.
    """
    value, u = _parse(text, name, _LENGTH)
    return TypedLength(value_mm=value, u_mm=u)


def parse_mass(text: str, name: str) -> TypedNumber:
    """Read a mass in mg, with or without unit and standard uncertainty.

    Args:
        text: what was typed.
        name: what it is, for the error message.

    Raises:
        InputError: not a number, not a unit of mass, or an uncertainty below zero.
    """
    value, u = _parse(text, name, _MASS)
    return TypedNumber(value=value, u=u)


def parse_grams(text: str, name: str) -> TypedNumber:
    """Read a mass in g, with or without unit and standard uncertainty.

    Raises:
        InputError: as ``parse_mass``.
    """
    value, u = _parse(text, name, _GRAMS)
    return TypedNumber(value=value, u=u)


def parse_count(text: str, name: str) -> TypedNumber:
    """Read a count, which need not be whole, with or without standard uncertainty.

    Args:
        text: what was typed.
        name: what it is, for the error message.

    Raises:
        InputError: not a number, a unit, or an uncertainty below zero.
    """
    value, u = _parse(text, name, _COUNT)
    return TypedNumber(value=value, u=u)


def parse_spring(text: str, name: str) -> tuple[TypedLength, TypedLength, TypedLength]:
    """Read a spring size typed as height x thickness x length.

    The last unit holds for all numbers that have none.

    Raises:
        InputError: not three lengths.
    """
    parts = _TIMES.split(text.strip())
    if len(parts) != 3:
        raise InputError(
            f"{name}: {text!r} is not height x thickness x length.",
            hint='Type it like "1.50 x 0.12 x 360".',
        )
    units = [_unit_of(part, text, name) for part in parts]
    shared = next((unit for unit in reversed(units) if unit), "")
    height, thickness, length = (
        parse_length(part if unit else f"{part} {shared}", name)
        for part, unit in zip(parts, units, strict=True)
    )
    return height, thickness, length


def parse_positive(text: str, name: str) -> float:
    """Read a plain number above zero, such as hours per turn.

    Raises:
        InputError: not a number, or not above zero.
    """
    number = _number(text)
    if number is None or number[1] or not math.isfinite(number[0]) or number[0] <= 0:
        raise InputError(f"{name}: {text!r} is not a number above zero.", hint="Type it like 7.5.")
    if not _COUNT.least <= number[0] <= _COUNT.most:
        raise InputError(f"{name}: {text!r} is not a number in a watch.", hint="Check the number.")
    return number[0]


def _parse(text: str, name: str, kind: _Kind) -> tuple[float, float | None]:
    parts = _PLUS_MINUS.split(text)
    if len(parts) > 2:
        raise _unreadable(text, name, kind)
    numbers = [_parse_part(part, text, name, kind) for part in parts]
    shared = _last_unit(numbers)
    sizes = [value * _per_unit(unit or shared, text, name, kind) for value, unit in numbers]
    u = sizes[1] if len(sizes) == 2 else None
    if not all(map(math.isfinite, sizes)) or (u is not None and u < 0):
        raise _unreadable(text, name, kind)
    if any(size and not kind.least <= abs(size) <= kind.most for size in sizes):
        raise InputError(
            f"{name}: {text!r} is not a {kind.what} in a watch.",
            hint="Check the number and its unit.",
        )
    return sizes[0], u


def _unit_of(spoken: str, text: str, name: str) -> str:
    parts = _PLUS_MINUS.split(spoken)
    return _last_unit([_parse_part(part, text, name, _LENGTH) for part in parts])


def _last_unit(numbers: Sequence[tuple[float, str]]) -> str:
    return next((unit for _, unit in reversed(numbers) if unit), "")


def _parse_part(part: str, text: str, name: str, kind: _Kind) -> tuple[float, str]:
    number = _number(part)
    if number is None:
        raise _unreadable(text, name, kind)
    return number


def _number(part: str) -> tuple[float, str] | None:
    """Return the number and its unit, which may be empty, or None if it is not a number."""
    match = _PART.fullmatch(part)
    if match is None:
        return None
    top, bottom = (float(n.replace(",", ".")) for n in (match["top"], match["bottom"] or "1"))
    if bottom == 0 or (match["whole"] and not top < bottom):
        return None
    value = top / bottom
    if whole := match["whole"]:
        value = float(whole) + math.copysign(value, -1.0 if whole.startswith("-") else 1.0)
    return value, _unit(match["unit"])


def _unit(typed: str) -> str:
    return "in" if _MARK.fullmatch(typed) else _CAPITALS.get(typed, typed)


def _per_unit(unit: str, text: str, name: str, kind: _Kind) -> float:
    if unit in kind.plain:
        return kind.plain[unit]
    fault = InputError(
        f"{name}: {unit!r} in {text!r} is not a unit of {kind.what}.", hint=kind.units_hint
    )
    if not kind.base:
        raise fault
    import pint

    try:
        return float(_registry().Quantity(1.0, unit).to(kind.base).magnitude)
    except pint.PintError as exc:
        raise fault from exc


@functools.cache
def _registry() -> pint.UnitRegistry[float]:
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    for definition in _TRADE_UNITS:
        registry.define(definition)
    return registry


def _unreadable(text: str, name: str, kind: _Kind) -> InputError:
    return InputError(f"{name}: {text!r} is not a {kind.what}.", hint=kind.hint)
