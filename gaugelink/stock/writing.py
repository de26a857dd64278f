"""A list of springs written as CSV, so that reading it gives the same springs again."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable
from pathlib import Path

from gaugelink.errors import InputError
from gaugelink.stock.columns import FIELDS
from gaugelink.stock.spring import StockSpring

_HEADINGS = [f"{name} (mm)" if FIELDS[name].endswith("_mm") else name for name in FIELDS]


def stock_csv(springs: Iterable[StockSpring]) -> str:
    """Write springs as CSV text, lengths in mm with every digit that they have."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_HEADINGS)
    writer.writerows([_cell(getattr(s, field)) for field in FIELDS.values()] for s in springs)
    return out.getvalue()


def write_stock(path: Path, springs: Iterable[StockSpring]) -> None:
    """Write springs into a new CSV file; what is there already is never overwritten.

    Raises:
        InputError: the file exists, or cannot be written.
    """
    if path.suffix.casefold() in (".xlsx", ".xls", ".ods"):
        raise InputError(
            f"{path.name} would not be a spreadsheet: what is written is CSV.",
            hint="Name it FILE.csv; every spreadsheet program opens that.",
        )
    text = stock_csv(springs)
    # Spreadsheets take text beyond ASCII for UTF-8 only with a byte order mark before it.
    encoding = "utf-8" if text.isascii() else "utf-8-sig"
    try:
        with path.open("x", encoding=encoding, newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
    except (OSError, ValueError) as exc:
        raise InputError(
            f"The list cannot be written to {path} ({getattr(exc, 'strerror', None) or exc}).",
            hint="Name a new file in a folder that you may write to.",
        ) from exc


def _cell(value: str | float | int | None) -> str:
    return "" if value is None else value if isinstance(value, str) else repr(value)
