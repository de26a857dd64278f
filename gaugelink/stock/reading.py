"""Reading a list of springs, whichever kind of file it is, every row checked.

Each row is looked at whole, and every fault in it is kept. Sizes beyond what a spring of the
stock can be at all are typing errors.
"""

from __future__ import annotations

import functools
import math
import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from gaugelink.errors import FileFormatError, InputError, refuse_special
from gaugelink.mechanics.materials import OPEN, WHITE, shipped_ends, shipped_materials
from gaugelink.stock.columns import (
    FIELDS,
    MILLIMETRE,
    REQUIRED,
    BadCell,
    Column,
    Columns,
    Grid,
    GridRow,
    cell_mm,
    find_columns,
    is_plain,
    quoted,
)
from gaugelink.stock.stock_spring import StockSpring, item_key
from gaugelink.stock.words import END_WORDS, MATERIAL_WORDS, folded, named_by
from gaugelink.stock.xlsx_file import read_csv, read_xlsx

MOST_FAULTS = 20  # told of one list, each in a line
MAX_BYTES = 128 * 1024 * 1024
_BLOCK_BYTES = 1024 * 1024
_ZIP = b"PK\x03\x04"
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # the container of old and of encrypted spreadsheets
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_OPEN_DOCUMENT = b"mimetypeapplication/vnd.oasis.opendocument"


@dataclass(frozen=True, slots=True, kw_only=True)
class StockList:
    """What a file says: its sound rows as springs, and every fault of the others.

    Args:
        path: the file.
        springs: those of the rows without a fault, in order.
        faults: in order; several may be of one row.
        unused: headings of columns that nothing is read from.
        sheet: name of the sheet that was read; empty for a text file.
        other_sheets: sheets of the file that were not read.
        n_blank_counts: how many of the springs have an empty count, which is taken as none.
    """

    path: str
    springs: tuple[StockSpring, ...]
    faults: tuple[RowFault, ...] = ()
    unused: tuple[str, ...] = ()
    sheet: str = ""
    other_sheets: tuple[str, ...] = ()
    n_blank_counts: int = 0

    @property
    def n_faulty_rows(self) -> int:
        """How many rows cannot be used."""
        return len({fault.line for fault in self.faults})


def read_stock(path: Path, *, sheet: str | None = None) -> StockList:
    """Read a list of springs from CSV or .xlsx, every row checked.

    Args:
        path: the file; what it is, is told from its first bytes.
        sheet: the sheet of a spreadsheet to read; None for the first.

    Raises:
        FileFormatError: the file cannot be read, or has no springs or columns.
        InputError: there is no such sheet.
    """
    grid = _grid(_read_bytes(path), str(path), sheet)
    rows = (row for row in grid.rows if not row.blank)
    headings = next(rows, None)
    if headings is None:
        raise _refused(path, grid, "it is empty.")
    columns = find_columns(headings, path=_place(path, grid))
    springs, faults, n_blank_counts = _sorted_out(rows, columns)
    if not springs and not faults:
        raise _refused(path, grid, "there are headings, but no springs below them.")
    return StockList(
        path=str(path),
        springs=tuple(springs),
        faults=tuple(faults),
        unused=columns.unused,
        sheet=grid.sheet,
        other_sheets=grid.other_sheets,
        n_blank_counts=n_blank_counts,
    )


def sound_springs(path: Path, *, sheet: str | None = None) -> tuple[StockSpring, ...]:
    """Return the springs of a list in which every row is sound.

    Raises:
        FileFormatError: as ``read_stock``; also for rows with faults, the first of them all told.
        InputError: there is no such sheet.
    """
    found = read_stock(path, sheet=sheet)
    if found.faults:
        raise _unsound(found)
    return found.springs


def _unsound(found: StockList) -> FileFormatError:
    first, *others = found.faults
    if not others:
        where = f"line {first.line}, {first.column or 'row'}"
        return FileFormatError(first.fault, path=found.path, where=where, hint=first.hint)
    told = [
        f"  line {f.line}, {' '.join(f.column.split()) or 'row'}: {f.fault} {f.hint}"
        for f in found.faults[:MOST_FAULTS]
    ]
    rest = len(found.faults) - len(told)
    head = f"there are {len(found.faults)} faults, in {found.n_faulty_rows} of its rows:"
    lines = [head, *told, *([f"  and {rest} more"] if rest else [])]
    return FileFormatError("\n".join(lines), path=found.path, hint="Correct them in the file.")


def _sorted_out(
    rows: Iterator[GridRow], columns: Columns
) -> tuple[list[StockSpring], list[RowFault], int]:
    n_blank_counts = 0
    springs: list[StockSpring] = []
    faults: list[RowFault] = []
    first_lines: dict[str, int] = {}
    for row in rows:
        found = read_row(row, columns)
        if not isinstance(found, StockSpring):
            faults += found
            continue
        first = first_lines.setdefault(item_key(found.item), row.line)
        if first == row.line:
            springs.append(found)
            n_blank_counts += _has_blank_count(row, columns)
        else:
            faults.append(_double(row.line, found.item, first, columns))
    return springs, faults, n_blank_counts


def _has_blank_count(row: GridRow, columns: Columns) -> bool:
    counts = [c.index for c in columns.read if c.name == "on hand"]
    return any(not "".join(map(str, row.cells[i : i + 1])).strip() for i in counts)


def _double(line: int, item: str, first: int, columns: Columns) -> RowFault:
    return RowFault(
        line=line,
        column=columns.heading("item"),
        fault=f"The item {item!r} is in line {first} already.",
        hint="Give each size a name of its own, or count equal springs in one row.",
    )


def _read_bytes(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise IsADirectoryError(None, "it is a folder")
        refuse_special(path)
        with path.open("rb") as file:
            data = _at_most(file, MAX_BYTES + 1)
    except (OSError, ValueError) as exc:  # a name with a zero in it is a ValueError
        reason = getattr(exc, "strerror", None) or exc
        raise FileFormatError(
            f"the list cannot be read ({reason}).",
            path=str(path),
            hint="Check the path; 'gaugelink stock --demo' reads an invented list.",
        ) from exc
    if len(data) > MAX_BYTES:
        raise FileFormatError(
            f"the file has more than {MAX_BYTES // 2**20} MB.",
            path=str(path),
            hint="Copy the list of springs into a file of its own.",
        )
    return data


def _at_most(file: BinaryIO, n_bytes: int) -> bytes:
    """Read block by block: asking for all at once makes room for all at once."""
    data = bytearray()
    while len(data) < n_bytes and (block := file.read(_BLOCK_BYTES)):
        data += block
    return bytes(data)


def _grid(data: bytes, path: str, sheet: str | None) -> Grid:
    if data.startswith(_OLE):
        raise _ole_fault(data, path)
    if data.startswith(_ZIP):
        if _OPEN_DOCUMENT in data[:100]:
            raise _other_format("this is an OpenDocument spreadsheet", path)
        return read_xlsx(data, path=path, sheet=sheet)
    if sheet is not None:
        raise InputError(f"{path} has no sheets.", hint="Leave --sheet out.")
    return read_csv(data, path=path)


def _ole_fault(data: bytes, path: str) -> FileFormatError:
    if _ENCRYPTED in data:
        return FileFormatError(
            "the spreadsheet is locked with a password.",
            path=path,
            hint="Save a copy without password, or as 'CSV UTF-8', and read that.",
        )
    return _other_format("this is a spreadsheet of the old .xls kind", path)


def _other_format(what: str, path: str) -> FileFormatError:
    hint = "Save it as .xlsx or as 'CSV UTF-8' and read that."
    return FileFormatError(f"{what}.", path=path, hint=hint)


def _place(path: Path, grid: Grid) -> str:
    return f"{path}: sheet {grid.sheet!r}" if grid.sheet else str(path)


def _refused(path: Path, grid: Grid, message: str) -> FileFormatError:
    others = ", ".join(map(repr, grid.other_sheets))
    hint = f"Other sheets are {others}: choose one with --sheet." if others else "Look at the file."
    return FileFormatError(message, path=_place(path, grid), hint=hint)


_MOST_LETTERS = {"item": 80, "note": 2000}
_MOST_DIGITS = 12
_WHOLE = re.compile(r"\+?(\d+)(?:[.,]0*)?")
_SIGNS = re.compile(r"^(?:±|\+-|\+/-)\s*")


def read_cell(text: str, column: Column) -> str | int | float:
    """Return the value of a cell that is not blank.

    Args:
        text: the cell without the blanks around it.
        column: where it is.

    Raises:
        InputError: it cannot be used; the message is a sentence without the column's name.
    """
    return _READERS[column.name](text, column)


def _text(text: str, column: Column) -> str:
    most = _MOST_LETTERS[column.name]
    if len(text) > most:
        raise InputError(
            f"{len(text)} letters are too long; the most is {most}.",
            hint="Shorten it; a quotation mark that is not closed also does this.",
        )
    if text.isprintable():
        return text
    if any(unicodedata.category(letter) in ("Cc", "Cs") for letter in _without_breaks(text)):
        raise InputError("It contains a control character.", hint="Type it again.")
    if column.name == "item" and _without_breaks(text) != text:
        raise InputError("An item name has one line only.", hint="Move the rest to the note.")
    return text


def _without_breaks(text: str) -> str:
    return text.replace("\r\n", "").replace("\n", "").replace("\t", "")


def _size(text: str, column: Column) -> float:
    size_mm = cell_mm(text, column.unit)
    if fault := fault_of_size(column.name, size_mm):
        number = cell_mm(text, MILLIMETRE) if is_plain(text) else math.nan
        hint = meant_by(column.name, text, number) or "Check the number and its unit."
        raise InputError(f"{fault}.", hint=hint)
    return size_mm


def _tolerance(text: str, column: Column) -> float:
    tolerance_mm = cell_mm(_SIGNS.sub("", text), column.unit)
    if not tolerance_mm > 0:
        raise InputError(
            f"{text!r} is not a tolerance above zero.",
            hint="Leave it empty where it is not known; the usual one is taken then.",
        )
    return tolerance_mm


def _count(text: str, column: Column) -> int:
    match = _WHOLE.fullmatch(text)
    if match is None or len(match[1]) > _MOST_DIGITS or int(match[1]) > MOST_ON_HAND:
        raise InputError(
            f"{quoted(text)} is not a whole number from 0 to {MOST_ON_HAND:,}.",
            hint="Type it like 3.",
        )
    return int(match[1])


def _end(text: str, column: Column) -> str:
    return _known(text, "outer end", _ends())


def _material(text: str, column: Column) -> str:
    return _known(text, "material", _materials())


@functools.cache
def _ends() -> Mapping[str, str]:
    return named_by({**dict.fromkeys((end.name for end in shipped_ends()), ""), **END_WORDS})


@functools.cache
def _materials() -> Mapping[str, str]:
    names = [*(material.name for material in shipped_materials()), WHITE, OPEN]
    return named_by({**dict.fromkeys(names, ""), **MATERIAL_WORDS})


def _known(text: str, what: str, names: Mapping[str, str]) -> str:
    name = names.get(folded(text))
    if name is None:
        raise InputError(
            f"No {what} is called {quoted(text)}.",
            hint=f"Known are {', '.join(dict.fromkeys(names.values()))}, and plain words for them.",
        )
    return name


_READERS: Mapping[str, Callable[[str, Column], str | int | float]] = {
    "item": _text,
    "height": _size,
    "thickness": _size,
    "length": _size,
    "height tolerance": _tolerance,
    "thickness tolerance": _tolerance,
    "length tolerance": _tolerance,
    "end": _end,
    "material": _material,
    "on hand": _count,
    "reorder at": _count,
    "note": _text,
}
MOST_ON_HAND = 1_000_000  # common sense: more is a number that slipped into the column


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeLimits:
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
LIMITS: Mapping[str, SizeLimits] = {
    "height": SizeLimits(
        low_mm=0.3, high_mm=20.0, meant={"/100 mm": 0.01, "/10 mm": 0.1, " in": 25.4}
    ),
    "thickness": SizeLimits(
        low_mm=0.02, high_mm=0.6, meant={"/100 mm": 0.01, "/1000 mm": 0.001, " in": 25.4}
    ),
    "length": SizeLimits(low_mm=50.0, high_mm=3000.0, meant={" cm": 10.0, " in": 25.4}),
}


def fault_of_size(column: str, value_mm: float) -> str:
    """Return why a size in mm cannot be, or an empty text."""
    limits = LIMITS[column]
    if limits.hold(value_mm):
        return ""
    return (
        f"{value_mm:g} mm is not the {column} of a spring, which is {limits.low_mm:g} to "
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


@dataclass(frozen=True, slots=True, kw_only=True)
class RowFault:
    """Something in a list that cannot be used.

    Args:
        line: the line of the file, or the row of the sheet, where the row begins.
        column: its heading as the file has it.
        fault: what is wrong, one sentence.
        hint: what to do about it, one sentence.
    """

    line: int
    column: str
    fault: str
    hint: str


_TOLERANCES = {
    size: (FIELDS[size], FIELDS[f"{size} tolerance"]) for size in ("height", "thickness", "length")
}


def read_row(row: GridRow, columns: Columns) -> StockSpring | tuple[RowFault, ...]:
    """Return the spring of a row, or all that is wrong with it."""
    values: dict[str, Any] = {}
    faults = list(_surplus(row, columns))
    for column in columns.read:
        cell = row.cells[column.index] if column.index < len(row.cells) else ""
        try:
            value = _value(cell, column)
        except InputError as exc:
            faults.append(_fault(row, column.heading, str(exc), exc.hint))
            continue
        if value is not None:
            values[FIELDS[column.name]] = value
    faults += _wide_tolerances(row, columns, values)
    return tuple(faults) if faults else StockSpring(**values)


def _value(cell: str | BadCell, column: Column) -> str | int | float | None:
    """Return what a cell says, None where it may be blank and is."""
    if isinstance(cell, BadCell):
        raise InputError(cell.fault, hint=cell.hint)
    text = cell.strip()
    if text:
        return read_cell(text, column)
    if column.name in REQUIRED:
        raise InputError("The cell is empty.", hint=f"Every spring needs its {column.name}.")
    return 0 if column.name == "on hand" else None


def _surplus(row: GridRow, columns: Columns) -> tuple[RowFault, ...]:
    beyond = row.cells[columns.width :]
    if not any(isinstance(cell, BadCell) or cell.strip() for cell in beyond):
        return ()
    fault = f"The row has {len(row.cells)} cells and the headings are {columns.width}."
    hint = "A decimal comma between commas needs quotation marks; or part the cells with ';'."
    return (_fault(row, "", fault, hint),)


def _wide_tolerances(
    row: GridRow, columns: Columns, values: Mapping[str, Any]
) -> Iterator[RowFault]:
    for size, (size_field, tolerance_field) in _TOLERANCES.items():
        tolerance_mm = values.get(tolerance_field)
        if tolerance_mm is not None and tolerance_mm > values.get(size_field, math.inf) / 2:
            fault = f"A tolerance of {tolerance_mm:g} mm is more than half the {size}."
            heading = columns.heading(f"{size} tolerance")
            yield _fault(row, heading, fault, "Check the number and its unit.")


def _fault(row: GridRow, column: str, fault: str, hint: str) -> RowFault:
    return RowFault(line=row.line, column=column, fault=fault, hint=hint)
