"""A list of springs as rows of cells, whatever file it came from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias


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
