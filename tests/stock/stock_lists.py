"""Lists of springs to read, as files; every size is invented."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from gaugelink.stock.columns import Columns, GridRow, find_columns
from gaugelink.stock.reading import RowFault, StockList, read_row, read_stock
from gaugelink.stock.stock_spring import StockSpring

HEADINGS = "item,height,thickness,length"
SPRING = StockSpring(item="A1", height_mm=1.2, thickness_mm=0.12, length_mm=360.0)


def columns(headings: str) -> Columns:
    return find_columns(GridRow(line=1, cells=tuple(headings.split(","))), path="list.csv")


def read_cells(headings: str, *cells: str) -> StockSpring | tuple[RowFault, ...]:
    return read_row(GridRow(line=7, cells=cells), columns(headings))


def saved(folder: Path, text: str | bytes, name: str = "list.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def read_text(folder: Path, text: str | bytes) -> StockList:
    return read_stock(saved(folder, text))


def write_sheets(path: Path, **sheets: Sequence[Sequence[object]]) -> Path:
    """Write a spreadsheet; a text that begins with ``=`` becomes a formula without a value."""
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path
