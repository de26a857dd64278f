"""The heights of a section as dimensions: a line in a column, its text below and left of it."""

from __future__ import annotations

from collections.abc import Iterator

from gaugelink.drawing.dimension import Point, dimension_line
from gaugelink.drawing.lettering import FIGURE_PX, below, labels, with_figure
from gaugelink.drawing.pens import THIN, line, path, polyline
from gaugelink.drawing.section_levels import Height
from gaugelink.drawing.section_place import FLOOR_PX, SectionPlace
from gaugelink.drawing.svg import Element

_FIRST_PX = 26.0  # from the wall to the first column
_FIRST_ROW_PX = FLOOR_PX + 34


def columns(heights: tuple[Height, ...], place: SectionPlace) -> tuple[list[Element], float]:
    """Draw a column for each height, and tell where the row below the texts stands.

    The further out the column, the lower the row: so no leader crosses a text.
    """
    drawn: list[Element] = []
    row = place.floor_y + _FIRST_ROW_PX
    for i, height in enumerate(heights):
        x = place.outer_x + _FIRST_PX + i * place.column
        text = with_figure(height.name, height.figure, FIGURE_PX, x - 26, place.name_lines)
        drawn += _dimension(height, x, row, place)
        drawn += labels(text, x - 14, row, size_px=FIGURE_PX, anchor="end")
        row += below(len(text), FIGURE_PX)
    return drawn, row


def _dimension(height: Height, x: float, row: float, place: SectionPlace) -> Iterator[Element]:
    low, high = place.y(height.from_mm), place.y(height.to_mm)
    for y in (low, high):
        yield line(THIN, place.wall_x, y, x + 6, y)
    yield path(THIN, polyline(((x, low), (x, row - 7), (x - 8, row - 7))))
    ends = Point(x=x, y=low), Point(x=x, y=high)
    yield dimension_line(height.name, height.to_mm - height.from_mm, *ends)
