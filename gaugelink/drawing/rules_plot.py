"""Rules and springs side by side with their intervals, and the uncertainty budget as bars."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from gaugelink.drawing import svg
from gaugelink.drawing.dimension import TYPE_A, Axis, Dimension, across, axis_across
from gaugelink.drawing.lettering import (
    BOLD,
    FIGURE_PX,
    NOTE_PX,
    Sheet,
    below,
    broken,
    label,
    labels,
    shortened,
    with_figure,
)
from gaugelink.uncertainty.estimate import Kind

_ROW_PX = 58.0
_HEAD_PX = 34.0
_AXIS_PX = 44.0
_BELOW_MARK_PX = 19.0
_MARK_PX = 9.0
_WHISKER_PX = 8.0
_LEFT = 12.0
_RIGHT_MARGIN = 28.0
_BAR_PX = 18.0
_BARS_ROW_PX = 56.0
_TOP = 44.0
_UNIT = "share of the variance; hatched: type A, by statistics"


class RowKind(StrEnum):
    """What a row represents, each with its mark; a picked one is to order, to take or fitted."""

    RULE = "rule"
    FOUND = "found"
    DOCUMENTED = "documented"
    PICKED = "picked"


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleRow:
    """What one rule asks for, or what one spring is."""

    name: str
    kind: RowKind
    size: Dimension

    @property
    def title(self) -> str:
        """Its name, with what it is where the name does not say that."""
        plain = self.kind in (RowKind.RULE, RowKind.PICKED) or self.kind.value in self.name
        return self.name if plain else f"{self.kind.value}, {self.name}"


@dataclass(frozen=True, slots=True, kw_only=True)
class RulePanel:
    """The rows of one dimension, at least one, and what it is called: ``thickness in mm``."""

    title: str
    rows: tuple[RuleRow, ...]


def draw_rules(panels: tuple[RulePanel, ...], *, prefix: str, sheet: Sheet = Sheet.WIDE) -> svg.Svg:
    """Draw what rules ask for beside what was found, documented and picked.

    A dotted line carries the picked spring, else the found one, through its panel. There is a
    panel for each dimension; values are finite.
    """
    drawn, top = [], 0.0
    for panel in panels:
        shown, bottom = _panel(panel, top, sheet)
        drawn.append(shown)
        top = bottom + _AXIS_PX
    desc = " ".join(_described(panel) for panel in panels)
    caption = svg.Caption(prefix=prefix, title="Rules and springs compared", desc=desc)
    return svg.drawing(caption, sheet.width, top, tuple(drawn))


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One influence: its name, its type (A by statistics, B otherwise), its share, 0 to 1."""

    name: str
    kind: Kind
    share: float


def draw_budget(
    output: str, bars: tuple[Bar, ...], *, prefix: str, sheet: Sheet = Sheet.WIDE
) -> svg.Svg:
    """Draw the shares of the variance, in the order given."""
    room, lines = sheet.width - 2 * _LEFT, sheet.name_lines
    heading = broken(budget_heading(output), FIGURE_PX * BOLD, room, lines)
    top = _TOP + below(len(heading) - 1, FIGURE_PX)
    full_px = sheet.width - _LEFT - _RIGHT_MARGIN
    rows: list[svg.Element] = []
    for bar in bars:
        text = with_figure(bar.name, f"{100 * bar.share:.0f} %", NOTE_PX, room, lines)
        rows += labels(text, _LEFT, top + NOTE_PX)
        top += below(len(text) - 1, NOTE_PX)
        rows += _bar(bar, top + NOTE_PX + 8, full_px, prefix)
        top += _BARS_ROW_PX
    unit = broken(_UNIT, NOTE_PX, room, lines)
    children = (
        *labels(heading, _LEFT, 26, size_px=FIGURE_PX, bold=True),
        svg.group(*rows, data_px_per_share=svg.measure(full_px)),
        *labels(unit, _LEFT, top + 18),
    )
    desc = "; ".join(f"{bar.name}, type {bar.kind}: {100 * bar.share:.0f} %" for bar in bars)
    caption = svg.Caption(prefix=prefix, title=f"Uncertainty budget of {output}", desc=desc)
    height = top + 32 + below(len(unit) - 1, NOTE_PX)
    return svg.drawing(caption, sheet.width, height, children, (TYPE_A.pattern(prefix),))


def budget_heading(output: str) -> str:
    """Say what a budget is of."""
    return f"What makes {output} uncertain"


def _panel(panel: RulePanel, top: float, sheet: Sheet) -> tuple[svg.Element, float]:
    """A panel that begins at a height, and the height of its axis."""
    axis = _axis(panel, sheet)
    first = bottom = top + _HEAD_PX
    rows: list[svg.Element] = []
    for row in panel.rows:
        room, lines = sheet.width - 2 * _LEFT, sheet.name_lines
        text = with_figure(row.title, row.size.figure, NOTE_PX * BOLD, room, lines)
        rows += labels(text, 12, bottom + NOTE_PX + 2, bold=row.kind is RowKind.PICKED)
        bottom += _ROW_PX + below(len(text) - 1, NOTE_PX)
        rows += _marked(row, axis, bottom - _BELOW_MARK_PX)
    title = shortened(panel.title, FIGURE_PX * BOLD, sheet.width - 24)
    drawn = svg.group(
        *across(axis, bottom, grid_to=first),
        *_through(panel.rows, axis, first, bottom),
        label(title, 12, top + 26, size_px=FIGURE_PX, bold=True),
        *rows,
        data_view=panel.title,
        data_px_per_unit=svg.measure(axis.px_per_unit),
        data_origin=f"{axis.low:.15g}",  # whole: a narrow axis may lie far from zero
        data_origin_x=svg.measure(axis.start_px),
    )
    return drawn, bottom


def _axis(panel: RulePanel, sheet: Sheet) -> Axis:
    values = [
        value
        for row in panel.rows
        for value in (row.size.low_mm, row.size.value_mm, row.size.high_mm)
    ]
    return axis_across(values, sheet)


def _through(
    rows: tuple[RuleRow, ...], axis: Axis, top: float, bottom: float
) -> Iterator[svg.Element]:
    reference = _reference(rows)
    if reference:
        x = axis.px(reference.size.value_mm)
        yield svg.line(svg.COMPARED_LIMIT, x, top, x, bottom, data_name="reference")


def _reference(rows: tuple[RuleRow, ...]) -> RuleRow | None:
    by_kind = {row.kind: row for row in reversed(rows)}
    return by_kind.get(RowKind.PICKED) or by_kind.get(RowKind.FOUND)


def _marked(row: RuleRow, axis: Axis, y: float) -> Iterator[svg.Element]:
    low, high = axis.px(row.size.low_mm), axis.px(row.size.high_mm)
    yield svg.line(svg.EDGE, low, y, high, y)
    for x in (low, high):
        yield svg.line(svg.EDGE, x, y - _WHISKER_PX, x, y + _WHISKER_PX)
    yield from _mark(row, axis.px(row.size.value_mm), y)


def _mark(row: RuleRow, x: float, y: float) -> Iterator[svg.Element]:
    shape = _shape(row.kind, x, y)
    yield svg.filled("paper", shape, fill="white")
    if row.kind is RowKind.PICKED:
        yield svg.filled("ink", shape)
    yield svg.path(
        svg.EDGE, shape, data_kind=row.kind.value, data_value=svg.measure(row.size.value_mm)
    )


def _shape(kind: RowKind, x: float, y: float) -> str:
    """Ring for a rule, square for the found, diamond for the documented, triangle for the pick."""
    r = _MARK_PX
    if kind is RowKind.RULE:
        return svg.disc(x, y, r)
    if kind is RowKind.FOUND:
        return svg.box(x - r, y - r, 2 * r, 2 * r)
    if kind is RowKind.DOCUMENTED:
        r *= 1.25
        return svg.polyline(((x, y - r), (x + r, y), (x, y + r), (x - r, y))) + "Z"
    r *= 1.2
    return svg.polyline(((x, y - r), (x + r, y + r * 0.8), (x - r, y + r * 0.8))) + "Z"


def _described(panel: RulePanel) -> str:
    rows = ", ".join(f"{row.name} {row.size.figure}" for row in panel.rows)
    return f"{panel.title.capitalize()}: {rows}."


def _bar(bar: Bar, y: float, full_px: float, prefix: str) -> Iterator[svg.Element]:
    yield svg.line(svg.THIN, _LEFT, y + _BAR_PX, _LEFT + full_px, y + _BAR_PX)
    area = svg.box(_LEFT, y, bar.share * full_px, _BAR_PX)
    if bar.kind == "A":
        yield svg.filled("hatch", area, fill=TYPE_A.fill(prefix))
    else:
        yield svg.filled("band", area, fill_opacity=0.75)
    yield svg.path(svg.EDGE, area, data_name=bar.name, data_share=svg.measure(bar.share))
