"""Rows of a list as springs; each row is looked at whole, and every fault in it is kept."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from gaugelink.errors import InputError
from gaugelink.stock.cells import read_cell
from gaugelink.stock.columns import FIELDS, REQUIRED, Column, Columns
from gaugelink.stock.grid import BadCell, GridRow
from gaugelink.stock.spring import StockSpring


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
_BLANK_COUNT = "The cell is empty; a 0 and a count that was forgotten look the same."


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
    if column.name == "on hand":
        raise InputError(_BLANK_COUNT, hint="Type 0 if there is none.")
    return None


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
