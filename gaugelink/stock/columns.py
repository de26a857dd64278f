"""A list of springs as rows of cells: its columns, found in the headings, and lengths in mm."""

from __future__ import annotations

import difflib
import functools
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from gaugelink.errors import FileFormatError, InputError
from gaugelink.quantities import UNIT_MARK, parse_length
from gaugelink.stock.words import COLUMN_WORDS, folded, named_by


@dataclass(frozen=True, slots=True, kw_only=True)
class BadCell:
    """A cell that holds neither text nor a number: what it holds, and what to do."""

    fault: str
    hint: str


Cell: TypeAlias = str | BadCell


@dataclass(frozen=True, slots=True, kw_only=True)
class GridRow:
    """The cells of one row; ``line`` is where it begins in the file, the first being 1."""

    line: int
    cells: tuple[Cell, ...]

    @property
    def blank(self) -> bool:
        """Whether there is nothing in any cell."""
        return not any(isinstance(cell, BadCell) or cell.strip() for cell in self.cells)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """The rows, which are read as they are asked for, and the sheet that they stand in.

    Args:
        rows: in order.
        sheet: name of the sheet; empty for a text file.
        other_sheets: the sheets that were not read.
    """

    rows: Iterator[GridRow]
    sheet: str = ""
    other_sheets: tuple[str, ...] = ()


_PLAIN = re.compile(r"[+-]?\d+(?:[.,]\d*)?")
_EXPONENT = re.compile(r"(?<=[\d.,])[eE](?=[+-]?\d)")
_HAS_UNIT = re.compile(rf"[^\W\d_]|{UNIT_MARK}")
_WHOLE_AND_PART = re.compile(r"\d\s+\d")
_PLUS_MINUS = re.compile(r"\+-|\+/-|±")
_LONGEST = 40  # letters of a length with its unit; pint would ponder over long ones
_DECIMALS = 9  # of a mm, after a change of unit: takes off what only binary fractions left
_HINT = "Type it like 1.20, 12/100 or 0.047 in."


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadingUnit:
    """The unit that a heading gives for its column.

    Args:
        text: as it is in the heading.
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

    A fraction in a column of fractions is by itself: 12/100 is 0.12 mm there as well.

    Raises:
        InputError: not one length, or an uncertainty is with it.
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
    has_unit = _HAS_UNIT.search(_EXPONENT.sub("", text)) is not None
    is_part = "/" in text and not _WHOLE_AND_PART.search(text)
    if has_unit or (unit.is_part and is_part):
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
        f"{quoted(text.strip())} is not a unit of length.",
        hint="Write a unit like mm, 1/100 mm or in, in brackets after the name of the column.",
    )


# The name of each column and the field of ``StockSpring`` that it fills, in the order in
# which a list is written.
FIELDS: Mapping[str, str] = {
    "item": "item",
    "height": "height_mm",
    "thickness": "thickness_mm",
    "length": "length_mm",
    "height tolerance": "height_tolerance_mm",
    "thickness tolerance": "thickness_tolerance_mm",
    "length tolerance": "length_tolerance_mm",
    "end": "end",
    "material": "material",
    "on hand": "on_hand",
    "reorder at": "reorder_at",
    "note": "note",
}
REQUIRED = ("item", "height", "thickness", "length")
_BRACKETS = re.compile(r"(?P<name>[^(\[]*)[(\[](?P<unit>.*)[)\]]\s*")
# What may follow a name without brackets, as in ``height_mm``.
_ENDING = re.compile(r"(?P<name>.*?\S)\s+(?:in )?(?P<unit>mm|um|µm|in|inch|thou)")
_NAMES = named_by(COLUMN_WORDS)
_BETWEEN = re.compile(r"[\s_-]+")
_MOST_HEADINGS = 200
_LONGEST_NAMED = 60  # letters of a heading that is only named
_ALIKE = 0.75  # how near a heading must be to a name to be taken for a slip of the keyboard
_ALIKE_WORD = 0.85  # the same of the other words for it, of which there are many
_SHORTEST_SLIP = 5  # letters of a word that can be told from its neighbours


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column that is read.

    Args:
        index: its place in a row, the first being 0.
        name: its name, see ``FIELDS``.
        heading: as the file has it.
        unit: what a bare number in it means.
    """

    index: int
    name: str
    heading: str
    unit: HeadingUnit = MILLIMETRE


@dataclass(frozen=True, slots=True, kw_only=True)
class Columns:
    """The columns of one list.

    Args:
        read: those that are read.
        unused: the headings that nothing is read from.
        width: how many columns have headings, or stand before one that has.
    """

    read: tuple[Column, ...]
    unused: tuple[str, ...]
    width: int

    def heading(self, name: str) -> str:
        """Return how the file writes the name of a column that is read."""
        return next(column.heading for column in self.read if column.name == name)


def find_columns(row: GridRow, *, path: str) -> Columns:
    """Find the columns in the row of headings.

    ``row`` is the first that is not blank; ``path`` is for messages.

    Raises:
        FileFormatError: a column is missing, there twice, or has a unit that is none.
    """
    read: list[Column] = []
    unused: list[str] = []
    headings = _headings(row, path)
    for index, heading in enumerate(headings):
        try:
            column = _column(index, heading)
        except InputError as exc:
            raise _fault(row, path, f"{quoted(heading)}: {exc}", exc.hint) from exc
        if column is not None:
            read.append(column)
        elif heading:
            unused.append(heading[:_LONGEST_NAMED])
    _refuse_doubles(read, row, path)
    _refuse_missing(read, row, path)
    return Columns(read=tuple(read), unused=tuple(unused), width=len(headings))


def _headings(row: GridRow, path: str) -> list[str]:
    headings = [cell.strip() if isinstance(cell, str) else "" for cell in row.cells]
    while headings and not headings[-1]:
        headings.pop()
    if len(headings) > _MOST_HEADINGS:
        raise _fault(
            row, path, f"{len(headings)} columns are not a list of springs.", "Check the file."
        )
    return headings


def n_known(headings: Sequence[str]) -> int:
    """Count the headings that name a column, whatever their units."""
    return sum(_split(heading)[0] in FIELDS for heading in headings)


def _column(index: int, heading: str) -> Column | None:
    name, unit = _split(heading)
    if name not in FIELDS:
        _refuse_slip(name)
        return None
    if not FIELDS[name].endswith("_mm") or unit is None:
        return Column(index=index, name=name, heading=heading)
    return Column(index=index, name=name, heading=heading, unit=heading_unit(unit))


def _split(heading: str) -> tuple[str, str | None]:
    """Return the column that a heading names, or its own words, and its unit or None."""
    if match := _BRACKETS.fullmatch(heading):
        return _named(match["name"]), match["unit"]
    plain = _BETWEEN.sub(" ", heading).strip().casefold()
    name = _named(plain)
    match = _ENDING.fullmatch(plain)
    if name not in FIELDS and match and _named(match["name"]) in FIELDS:
        return _named(match["name"]), match["unit"]
    return name, None


def _named(text: str) -> str:
    word = folded(text)
    return _NAMES.get(word, word)


def _refuse_slip(name: str) -> None:
    """Refuse a heading that is almost a name: leaving it unread would hide the slip."""
    longest = 2 * max(map(len, FIELDS))
    words = [word for word in _NAMES if len(word) >= _SHORTEST_SLIP]
    near = difflib.get_close_matches(name[:longest], FIELDS, n=1, cutoff=_ALIKE)
    near = near or difflib.get_close_matches(name[:longest], words, n=1, cutoff=_ALIKE_WORD)
    if near:
        raise InputError(
            "no column is called that.", hint=f"Is it {near[0]!r}? If not, name it differently."
        )


def _refuse_doubles(read: Sequence[Column], row: GridRow, path: str) -> None:
    headings: dict[str, list[str]] = {}
    for column in read:
        headings.setdefault(column.name, []).append(quoted(column.heading))
    for name, same in headings.items():
        if len(same) > 1:
            hint = "Keep one of them, or give the other another name."
            message = f"the column {name!r} is there twice: {' and '.join(same)}."
            raise _fault(row, path, message, hint)


def _refuse_missing(read: Sequence[Column], row: GridRow, path: str) -> None:
    names = {column.name for column in read}
    missing = [repr(name) for name in REQUIRED if name not in names]
    if not missing:
        return
    found = ", ".join(repr(column.heading) for column in read) or "none that is known"
    hint = (
        f"The first row names the columns; found: {found}. There must be "
        f"{', '.join(REQUIRED)}; there may be {', '.join(list(FIELDS)[len(REQUIRED) :])}."
    )
    lacks = "no columns called" if len(missing) > 1 else "no column called"
    raise _fault(row, path, f"{lacks} {', '.join(missing)}.", hint)


def _fault(row: GridRow, path: str, message: str, hint: str) -> FileFormatError:
    return FileFormatError(message, path=path, where=f"line {row.line}", hint=hint)
