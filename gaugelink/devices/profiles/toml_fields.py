"""Checks the values of a profile file one by one, and says which key is wrong and why.

A *reader* takes one value with its place in the file and returns it checked and
converted. A *schema* gives the reader for each key that may stand in a table;
its keys are the field names of the dataclass that the table becomes. For a format of
bits ``schema_of`` makes it from the types of those fields.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import Field, dataclass, fields
from decimal import Decimal
from enum import StrEnum
from typing import Any, TypeAlias, TypeVar, get_args, get_type_hints

from gaugelink.errors import ProfileError

_E = TypeVar("_E", bound=StrEnum)
_T = TypeVar("_T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A value in a profile file: ``key`` is its dotted name, empty for the whole file."""

    value: Any
    path: str
    key: str = ""

    def child(self, key: str, value: Any = None) -> Spot:
        """Return the place one level down."""
        return Spot(value=value, path=self.path, key=f"{self.key}.{key}" if self.key else key)

    def fault(self, message: str, hint: str = "") -> ProfileError:
        """Return the error to raise about this value."""
        return ProfileError(message, path=self.path, where=self.key, hint=hint)


Reader: TypeAlias = Callable[[Spot], Any]
Schema: TypeAlias = Mapping[str, Reader]


def read_table(spot: Spot, schema: Schema, *, required: Sequence[str] = ()) -> dict[str, Any]:
    """Read every key of a table.

    Raises:
        ProfileError: not a table; an unknown key; a required key is missing; a bad value.
    """
    values = table(spot)
    for key in values:
        if key not in schema:
            raise spot.child(key).fault("unknown key.", f"Keys here: {', '.join(schema)}.")
    for key in required:
        if key not in values:
            raise spot.child(key).fault("this key is missing.")
    return {key: schema[key](spot.child(key, value)) for key, value in values.items()}


def schema_of(kind: type) -> Schema:
    """Make the readers of a dataclass whose fields are flags, numbers and choices.

    Raises:
        TypeError: a field is of another type, or a whole number that states no range.
    """
    types = get_type_hints(kind)
    return {each.name: _reader_of(each, types[each.name]) for each in fields(kind)}


def _reader_of(field: Field[Any], kind: Any) -> Reader:
    kind = next((each for each in get_args(kind) if each is not type(None)), kind)
    if kind is bool:
        return flag
    if kind is Decimal:
        return decimal
    if kind is int and field.metadata:
        return whole(**field.metadata)
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        return choice(kind)
    raise TypeError(f"a table of a profile cannot hold {field.name}: {kind}")


def table(spot: Spot) -> dict[str, Any]:
    """Read a TOML table as it is."""
    return _of_type(spot, dict, "a table")


def text(spot: Spot) -> str:
    """Read a string."""
    return _of_type(spot, str, "a string in quotes")


def flag(spot: Spot) -> bool:
    """Read true or false."""
    return _of_type(spot, bool, "true or false")


def data(spot: Spot) -> bytes:
    r"""Read bytes, written as a string with escapes: ``"?\r"``."""
    try:
        raw = text(spot).encode("latin-1")
    except UnicodeEncodeError:
        hint = r"Write a byte as its character, or as \u00XX."
        raise spot.fault(f"{spot.value!r} cannot be sent as bytes.", hint) from None
    if not raw:
        raise spot.fault("may not be empty.")
    return raw


def decimal(spot: Spot) -> Decimal:
    """Read a positive number, exactly as written."""
    if type(spot.value) not in (int, Decimal):
        raise spot.fault(f"{spot.value!r} is not a number.")
    number = Decimal(spot.value)
    if not (number.is_finite() and number > 0):
        raise spot.fault(f"{number} is not a positive number.")
    return number


def whole(low: int, high: int) -> Callable[[Spot], int]:
    """Make a reader of whole numbers from ``low`` to ``high``."""

    def read(spot: Spot) -> int:
        number = _of_type(spot, int, "a whole number")
        if not low <= number <= high:
            raise spot.fault(f"{number} is not from {low} to {high}.")
        return number

    return read


def choice(kind: type[_E]) -> Callable[[Spot], _E]:
    """Make a reader of the members of an enumeration, written as their texts."""

    def read(spot: Spot) -> _E:
        try:
            return kind(text(spot))
        except ValueError:
            names = ", ".join(kind)
            raise spot.fault(f"{spot.value!r} is not one of: {names}.") from None

    return read


def table_of(reader: Callable[[Spot], _T]) -> Callable[[Spot], dict[str, _T]]:
    """Make a reader of tables with free keys, whose values all go to one reader."""

    def read(spot: Spot) -> dict[str, _T]:
        return {key: reader(spot.child(key, value)) for key, value in table(spot).items()}

    return read


def set_of(reader: Callable[[Spot], _T]) -> Callable[[Spot], frozenset[_T]]:
    """Make a reader of lists, not empty, whose order means nothing."""

    def read(spot: Spot) -> frozenset[_T]:
        values = _of_type(spot, list, "a list")
        if not values:
            raise spot.fault("may not be empty.")
        return frozenset(reader(Spot(value=v, path=spot.path, key=spot.key)) for v in values)

    return read


def _of_type(spot: Spot, kind: type[_T], words: str) -> _T:
    value = spot.value
    if type(value) is kind:  # not isinstance: true would pass for a whole number
        return value
    raise spot.fault(f"{value!r} is not {words}.")
