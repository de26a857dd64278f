"""Lists of springs as files: spreadsheets, read with openpyxl, and text with separators.

Of a formula only the value that the spreadsheet saved with it is read.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
import warnings
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from itertools import islice
from typing import TYPE_CHECKING, Any

from gaugelink.errors import FileFormatError, GaugelinkError, InputError
from gaugelink.stock.columns import BadCell, Cell, Grid, GridRow, n_known

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook
MAX_UNPACKED_BYTES = 512 * 1024 * 1024  # a sheet of 100,000 springs takes some 60 MB
MAX_ROWS = 1_048_576  # of the file format; a damaged number must not count to the end of time
_BATCH = 1000
_FORMULA = re.compile(rb"<(?:\w+:)?f[\s/>]")
_LONGEST_TAG_BYTES = 64
_ERRORS = frozenset({"#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!"})
_RETYPE = "Give the column the format 'Text' and type the value again."


def read_xlsx(data: bytes, *, path: str, sheet: str | None = None) -> Grid:
    """Return the rows of one sheet.

    That is the first one if ``sheet`` is None; ``path`` is for messages.

    Raises:
        FileFormatError: not a spreadsheet, or damaged; while rows are asked for as well.
        InputError: there is no such sheet.
    """
    with _translated(path):
        has_formulas = _look_inside(data, path)
        with closing(_opened(data)) as book:
            names = [worksheet.title for worksheet in book.worksheets]
    name = _chosen(names, sheet, path)
    rows = _translated_rows(data, name, has_formulas, path)
    return Grid(rows=rows, sheet=name, other_sheets=tuple(n for n in names if n != name))


def _look_inside(data: bytes, path: str) -> bool:
    """Refuse what unpacks to an absurd size; return whether a sheet has formulas."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        if sum(part.file_size for part in archive.infolist()) > MAX_UNPACKED_BYTES:
            raise FileFormatError(
                "the spreadsheet is too large to be a list of springs.",
                path=path,
                hint="Copy the list into a file of its own.",
            )
        sheets = [name for name in archive.namelist() if name.startswith("xl/worksheets/")]
        return any(_has_formula(archive, name) for name in sheets)


def _has_formula(archive: zipfile.ZipFile, name: str) -> bool:
    tail = b""
    with archive.open(name) as part:
        while block := part.read(1 << 20):
            if _FORMULA.search(tail + block):
                return True
            tail = block[-_LONGEST_TAG_BYTES:]
    return False


def _opened(data: bytes, *, values: bool = True) -> Workbook:
    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about styles and the like, which are not read
        return openpyxl.load_workbook(
            io.BytesIO(data), read_only=True, data_only=values, keep_links=False
        )


def _chosen(names: list[str], sheet: str | None, path: str) -> str:
    if not names:
        raise FileFormatError("it has no sheet.", path=path, hint="Look at the file.")
    if sheet is None:
        return names[0]
    for name in names:
        if name.casefold() == sheet.strip().casefold():
            return name
    raise InputError(
        f"{path} has no sheet {sheet!r}.", hint=f"It has {', '.join(map(repr, names))}."
    )


def _translated_rows(data: bytes, name: str, has_formulas: bool, path: str) -> Iterator[GridRow]:
    with _translated(path), closing(_opened(data)) as book:
        values = _batched(_sheet_rows(book, name))
        if not has_formulas:
            for line, row in enumerate(values, start=1):
                yield GridRow(line=line, cells=tuple(map(_cell, row)))
            return
        with closing(_opened(data, values=False)) as formulas:
            typed = _batched(_sheet_rows(formulas, name))
            for line, (row, sources) in enumerate(zip(values, typed, strict=True), start=1):
                yield GridRow(line=line, cells=tuple(map(_computed_cell, row, sources)))


def _sheet_rows(book: Workbook, name: str) -> Iterator[tuple[Any, ...]]:
    sheet: Any = book[name]
    sheet.reset_dimensions()  # some programs write a wrong size of the sheet
    return islice(sheet.iter_rows(values_only=True), MAX_ROWS)


def _batched(rows: Iterable[tuple[Any, ...]]) -> Iterator[tuple[Any, ...]]:
    """Yield the rows; openpyxl's warnings, of dates that are none, are held back."""
    source = iter(rows)
    while True:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            batch = list(islice(source, _BATCH))
        if not batch:
            return
        yield from batch


def _computed_cell(value: Any, source: Any) -> Cell:
    if value is None and source is not None:
        return BadCell(
            fault="There is a formula whose value was not saved.",
            hint="Open the file in the spreadsheet program and save it, or type the value.",
        )
    return _cell(value)


def _cell(value: Any) -> Cell:
    if value is None:
        return ""
    if isinstance(value, str):
        if value in _ERRORS:
            return BadCell(fault=f"The cell holds the error {value}.", hint="Type the value.")
        return value
    if isinstance(value, bool):
        return BadCell(fault="The cell holds a yes or no.", hint=_RETYPE)
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    if isinstance(value, int | float):
        return repr(value)
    return BadCell(
        fault="The cell holds a date or time; the spreadsheet may have made it of '1-2' or '1/2'.",
        hint=_RETYPE,
    )


@contextmanager
def _translated(path: str) -> Iterator[None]:
    """Turn what a damaged file raises into an error of ours.

    openpyxl has no error of its own: what comes depends on where the damage is.
    """
    try:
        yield
    except GaugelinkError:
        raise
    except Exception as exc:
        raise FileFormatError(
            f"the spreadsheet cannot be read ({type(exc).__name__}).",
            path=path,
            hint="Open it in a spreadsheet program and save it as .xlsx or as 'CSV UTF-8'.",
        ) from exc


DELIMITERS = (",", ";", "\t")
_UTF16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
# Some spreadsheets put their delimiter into a line of its own before the headings.
_SAID = re.compile(r"sep=(?P<delimiter>.)\r?\n", re.I)


# What a spreadsheet begins to work out when it opens a CSV file, also behind apostrophes, and
# what it reads as a number at most. OWASP, "CSV Injection"; the wide signs are those of keyboards
# for Chinese and Japanese, which some programs take for the narrow ones.
_WORKED_OUT = re.compile("'*[=+\\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")
_NUMBERS = re.compile(r"[-+ .,\d]*")


def csv_cell(text: str) -> str:
    """Return a text as a cell of a CSV file, so that no program works it out as a formula.

    An apostrophe before it says to every spreadsheet that it is text; ``read_csv`` takes it away.
    """
    if _WORKED_OUT.match(text) and not _NUMBERS.fullmatch(text):
        return f"'{text}"
    return text


def _meant(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and _WORKED_OUT.match(cell) else cell


def read_csv(data: bytes, *, path: str) -> Grid:
    """Return the rows of a text file.

    It is UTF-8 with or without a byte order mark, or UTF-16 with one; ``path`` is for messages.

    Raises:
        FileFormatError: not text, or a quotation mark is not closed; while rows are asked
            for as well.
    """
    text = _decoded(data, path)
    said = _SAID.match(text)
    skipped = 1 if said else 0
    body = text[said.end() :] if said else text
    delimiter = said["delimiter"] if said else _delimiter(body)
    return Grid(rows=_rows(body, delimiter, skipped, path))


def _decoded(data: bytes, path: str) -> str:
    encoding = "utf-16" if data.startswith(_UTF16) else "utf-8-sig"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as exc:
        line = data.count(b"\n", 0, exc.start) + 1
        raise FileFormatError(
            "this is not UTF-8 text.",
            path=path,
            where=f"line {line}",
            hint="Save the list as 'CSV UTF-8' or as an .xlsx file and read that.",
        ) from exc
    if "\0" in text:
        raise FileFormatError(
            "this is not a text file.", path=path, hint="A list of springs is CSV or an .xlsx file."
        )
    return text


def _delimiter(text: str) -> str:
    """Return what parts the headings into the most columns that are known."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    return max(DELIMITERS, key=lambda delimiter: n_known(_cells(first, delimiter)))


def _cells(line: str, delimiter: str) -> list[str]:
    return [cell.strip().strip('"') for cell in line.split(delimiter)]


def _rows(text: str, delimiter: str, skipped: int, path: str) -> Iterator[GridRow]:
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=delimiter, skipinitialspace=True, strict=True
    )
    line = skipped + 1
    try:
        for cells in reader:
            yield GridRow(line=line, cells=tuple(map(_meant, cells)))
            line = skipped + reader.line_num + 1
    except csv.Error as exc:
        raise FileFormatError(
            f"the cells cannot be separated ({exc}).",
            path=path,
            where=f"line {line}",
            hint="Look for a quotation mark that is not closed; inside quotation marks, "
            "double each one.",
        ) from exc
