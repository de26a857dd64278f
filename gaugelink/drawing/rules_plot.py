"""Rules and springs side by side: what each asks for or is, with its interval."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from gaugelink.drawing.axis import Axis, across, axis_over
from gaugelink.drawing.lettering import BOLD, FIGURE_PX, NOTE_PX, label, shortened, with_figure
from gaugelink.drawing.pens import (
    COMPARED_LIMIT,
    EDGE,
    box,
    disc,
    filled,
    line,
    path,
    polyline,
)
from gaugelink.drawing.svg import Caption, Element, Svg, drawing, group, measure

_WIDTH = 640.0
_LEFT, _RIGHT = 52.0, 588.0
_ROW_PX = 58.0
_HEAD_PX = 34.0
_AXIS_PX = 56.0
_MARK_PX = 9.0
_WHISKER_PX = 8.0


class RowKind(StrEnum):
    """What a row stands for; each has a mark of its own."""

    RULE = "rule"
    FOUND = "found"
    DOCUMENTED = "documented"
    PICKED = "picked"


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleRow:
    """One rule or spring: value and interval in the unit of its panel, figure as written."""

    name: str
    kind: RowKind
    value: float
    low: float
    high: float
    figure: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RulePanel:
    """The rows of one dimension, at least one, and what it is called: ``thickness in mm``."""

    title: str
    rows: tuple[RuleRow, ...]


def draw_rules(panels: tuple[RulePanel, ...], *, prefix: str) -> Svg:
    """Draw what rules ask for beside what was found, documented and picked.

    A dotted line carries the picked spring, else the found one, through its panel.

    Args:
        panels: one for each dimension; finite values.
        prefix: prefix of the ids.
    """
    drawn, top = [], 0.0
    for panel in panels:
        drawn.append(_panel(panel, top))
        top += _HEAD_PX + len(panel.rows) * _ROW_PX + _AXIS_PX
    desc = " ".join(_described(panel) for panel in panels)
    caption = Caption(prefix=prefix, title="Rules and springs compared", desc=desc)
    return drawing(caption, _WIDTH, top, tuple(drawn))


def _panel(panel: RulePanel, top: float) -> Element:
    values = [value for row in panel.rows for value in (row.low, row.value, row.high)]
    axis = axis_over(values, start_px=_LEFT, end_px=_RIGHT, most_ticks=5)
    first = top + _HEAD_PX
    bottom = first + len(panel.rows) * _ROW_PX
    reference = _reference(panel.rows)
    rows = [
        part for i, row in enumerate(panel.rows) for part in _row(row, axis, first + i * _ROW_PX)
    ]
    through = []
    if reference:
        x = axis.px(reference.value)
        through.append(line(COMPARED_LIMIT, x, first, x, bottom, data_name="reference"))
    return group(
        *across(axis, bottom, grid_to=first),
        *through,
        label(
            shortened(panel.title, FIGURE_PX * BOLD, _WIDTH - 24),
            12,
            top + 26,
            size_px=FIGURE_PX,
            bold=True,
        ),
        *rows,
        data_view=panel.title,
        data_px_per_unit=measure(axis.px_per_unit),
        data_origin=measure(axis.low),
        data_origin_x=measure(axis.start_px),
    )


def _reference(rows: tuple[RuleRow, ...]) -> RuleRow | None:
    for kind in (RowKind.PICKED, RowKind.FOUND):
        for row in rows:
            if row.kind is kind:
                return row
    return None


def _row(row: RuleRow, axis: Axis, top: float) -> Iterator[Element]:
    picked = row.kind is RowKind.PICKED
    plain = row.kind is RowKind.RULE or row.kind.value in row.name
    name = row.name if plain else f"{row.kind.value}, {row.name}"
    text = with_figure(name, row.figure, NOTE_PX * BOLD, _WIDTH - 24)
    yield label(text, 12, top + NOTE_PX + 2, bold=picked)
    y = top + NOTE_PX + 20
    low, high = axis.px(row.low), axis.px(row.high)
    yield line(EDGE, low, y, high, y)
    for x in (low, high):
        yield line(EDGE, x, y - _WHISKER_PX, x, y + _WHISKER_PX)
    yield from _mark(row, axis.px(row.value), y)


def _mark(row: RuleRow, x: float, y: float) -> Iterator[Element]:
    """Ring for a rule, square for the found, diamond for the documented, triangle for the pick."""
    shape = _SHAPES[row.kind](x, y)
    yield filled("paper", shape, fill="white")
    if row.kind is RowKind.PICKED:
        yield filled("ink", shape)
    yield path(EDGE, shape, data_kind=row.kind.value, data_value=measure(row.value))


def _square(x: float, y: float) -> str:
    return box(x - _MARK_PX, y - _MARK_PX, 2 * _MARK_PX, 2 * _MARK_PX)


def _diamond(x: float, y: float) -> str:
    r = _MARK_PX * 1.25
    return polyline(((x, y - r), (x + r, y), (x, y + r), (x - r, y))) + "Z"


def _triangle(x: float, y: float) -> str:
    r = _MARK_PX * 1.2
    return polyline(((x, y - r), (x + r, y + r * 0.8), (x - r, y + r * 0.8))) + "Z"


def _ring(x: float, y: float) -> str:
    return disc(x, y, _MARK_PX)


_SHAPES: dict[RowKind, Callable[[float, float], str]] = {
    RowKind.RULE: _ring,
    RowKind.FOUND: _square,
    RowKind.DOCUMENTED: _diamond,
    RowKind.PICKED: _triangle,
}


def _described(panel: RulePanel) -> str:
    rows = ", ".join(f"{row.name} {row.figure}" for row in panel.rows)
    return f"{panel.title.capitalize()}: {rows}."
