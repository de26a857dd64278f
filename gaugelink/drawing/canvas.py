"""A canvas of characters: braille dots, two by four to a character, or plain ASCII."""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass, field

# Bit of each dot by column and row: Unicode, Braille Patterns, U+2800.
_BITS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
_EMPTY = 0x2800
_DENSE = 6  # dots of eight that make "#"


@dataclass(slots=True, kw_only=True)
class Canvas:
    """Dots on a grid of ``columns`` x ``rows`` characters, with texts written over them.

    Coordinates are in dots from the top left corner; dots outside are left out. A dot is
    as tall as wide, as far as a terminal's characters are twice as tall as wide.
    """

    columns: int
    rows: int
    _cells: dict[tuple[int, int], int] = field(default_factory=dict)
    _texts: dict[tuple[int, int], str] = field(default_factory=dict)

    @property
    def width(self) -> int:
        """Dots across."""
        return 2 * self.columns

    @property
    def height(self) -> int:
        """Dots down."""
        return 4 * self.rows

    def dot(self, x: float, y: float) -> None:
        """Set the dot nearest to a place."""
        across, down = math.floor(x + 0.5), math.floor(y + 0.5)
        if 0 <= across < self.width and 0 <= down < self.height:
            cell = across // 2, down // 4
            self._cells[cell] = self._cells.get(cell, 0) | _BITS[across % 2][down % 4]

    def line(self, x1: float, y1: float, x2: float, y2: float, *, every: int = 1) -> None:
        """Set the dots of a straight line, or every second or third of them."""
        steps = max(1, math.ceil(max(abs(x2 - x1), abs(y2 - y1))))
        for i in range(0, steps + 1, every):
            self.dot(x1 + (x2 - x1) * i / steps, y1 + (y2 - y1) * i / steps)

    def circle(self, cx: float, cy: float, r: float, *, every: int = 1) -> None:
        """Set the dots of a circle, or every second or third of them."""
        steps = max(8, math.ceil(2 * math.pi * r))
        for i in range(0, steps, every):
            angle = 2 * math.pi * i / steps
            self.dot(cx + r * math.cos(angle), cy + r * math.sin(angle))

    def write(self, column: int, row: int, text: str) -> None:
        """Write a text over the dots, from a character place on; what is outside is left out."""
        for char in text:
            wide = unicodedata.east_asian_width(char) in "WF"
            if unicodedata.combining(char):
                continue
            if column >= 0 and column + wide < self.columns and 0 <= row < self.rows:
                self._texts[column, row] = char if char.isprintable() else "?"
                if wide:
                    self._texts[column + 1, row] = ""
            column += 1 + wide

    def text(self, *, ascii_only: bool = False) -> str:
        """Return the lines, blanks at their ends cut off."""
        lines = (
            "".join(self._char(column, row, ascii_only) for column in range(self.columns)).rstrip()
            for row in range(self.rows)
        )
        return "\n".join(lines)

    def _char(self, column: int, row: int, ascii_only: bool) -> str:
        if (column, row) in self._texts:
            return self._texts[column, row]
        bits = self._cells.get((column, row), 0)
        if not bits:
            return " "
        return _ascii(bits) if ascii_only else chr(_EMPTY + bits)


def _ascii(bits: int) -> str:
    """The ASCII character whose ink lies most like the dots."""
    rows = [[i for i in range(4) if bits & column[i]] for column in _BITS]
    left, right = rows
    if len(left) + len(right) >= _DENSE:
        return "#"
    if not left or not right:
        alone = left or right
        return "|" if len(alone) > 1 else _dot_at(alone[0])
    slope = sum(right) / len(right) - sum(left) / len(left)
    if abs(slope) >= 1:
        return "\\" if slope > 0 else "/"
    return _dash_at((sum(left) + sum(right)) / (len(left) + len(right)))


def _dot_at(row: float) -> str:
    return "'" if row < 2 else "."


def _dash_at(row: float) -> str:
    if row > 2.4:
        return "_"
    return "-" if row > 0.6 else '"'
