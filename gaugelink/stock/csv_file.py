"""Lists of springs as text files: comma, semicolon or tab between the cells."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterator

from gaugelink.errors import FileFormatError
from gaugelink.stock.columns import n_known
from gaugelink.stock.grid import Grid, GridRow

DELIMITERS = (",", ";", "\t")
_UTF16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
# Some spreadsheets put their delimiter into a line of its own before the headings.
_SAID = re.compile(r"sep=(?P<delimiter>.)\r?\n", re.I)


def read_csv(data: bytes, *, path: str) -> Grid:
    """Return the rows of a text file.

    Args:
        data: the whole file, UTF-8 with or without a byte order mark, or UTF-16 with one.
        path: the file, for messages.

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
            "this is no text file.", path=path, hint="A list of springs is CSV or an .xlsx file."
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
            yield GridRow(line=line, cells=tuple(cells))
            line = skipped + reader.line_num + 1
    except csv.Error as exc:
        raise FileFormatError(
            f"the cells cannot be told apart ({exc}).",
            path=path,
            where=f"line {line}",
            hint="Look for a quotation mark that is not closed; inside quotation marks, "
            "double each one.",
        ) from exc
