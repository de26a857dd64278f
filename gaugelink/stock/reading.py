"""Reading a list of springs from a file, whichever kind it is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from gaugelink.errors import FileFormatError, InputError
from gaugelink.stock.columns import Columns, find_columns
from gaugelink.stock.csv_file import read_csv
from gaugelink.stock.grid import Grid, GridRow
from gaugelink.stock.rows import RowFault, read_row
from gaugelink.stock.spring import StockSpring, item_key
from gaugelink.stock.xlsx_file import read_xlsx

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
    """

    path: str
    springs: tuple[StockSpring, ...]
    faults: tuple[RowFault, ...] = ()
    unused: tuple[str, ...] = ()
    sheet: str = ""
    other_sheets: tuple[str, ...] = ()

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
        raise _refused(path, grid, "there is nothing in it.")
    columns = find_columns(headings, path=_place(path, grid))
    springs, faults = _sorted_out(rows, columns)
    if not springs and not faults:
        raise _refused(path, grid, "there are headings, and no spring under them.")
    return StockList(
        path=str(path),
        springs=tuple(springs),
        faults=tuple(faults),
        unused=columns.unused,
        sheet=grid.sheet,
        other_sheets=grid.other_sheets,
    )


def sound_springs(path: Path, *, sheet: str | None = None) -> tuple[StockSpring, ...]:
    """Return the springs of a list in which every row is sound.

    Raises:
        FileFormatError: as ``read_stock``; also for the first row with a fault.
        InputError: there is no such sheet.
    """
    found = read_stock(path, sheet=sheet)
    for fault in found.faults:
        more = len(found.faults) - 1
        others = f" There are {more} more faults." if more else ""
        raise FileFormatError(
            f"{fault.fault}{others}",
            path=str(path),
            where=f"line {fault.line}, {fault.column or 'row'}",
            hint=fault.hint,
        )
    return found.springs


def _sorted_out(
    rows: Iterator[GridRow], columns: Columns
) -> tuple[list[StockSpring], list[RowFault]]:
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
        else:
            faults.append(_double(row.line, found.item, first, columns))
    return springs, faults


def _double(line: int, item: str, first: int, columns: Columns) -> RowFault:
    return RowFault(
        line=line,
        column=columns.heading("item"),
        fault=f"The item {item!r} stands in line {first} already.",
        hint="Give each size a name of its own, or count equal springs in one row.",
    )


def _read_bytes(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise IsADirectoryError(None, "it is a folder")
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
