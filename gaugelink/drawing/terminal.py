"""The torque curve and the barrel as text for a terminal, in braille dots or plain ASCII."""

from __future__ import annotations

import math
import textwrap
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field

from gaugelink.drawing.barrel_plan import BarrelPlan, Strip, View, misfit, views_of
from gaugelink.drawing.dimension import Axis, axis_over
from gaugelink.drawing.torque_plot import TorquePlot, value_at

WIDTH = 78  # columns
_CURVE_ROWS = 14
_GUTTER = 7  # columns for the figures of the torque
_PLAN_ROWS = 18
_HEAD_ROWS = 3
_APART = 1.5
_ASCII = str.maketrans({"±": "+-", "×": "x", "…": "...", "⌀": "", "µ": "u"})
# Bit of each dot by column and row: Unicode, Braille Patterns, U+2800.
_BITS = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
_EMPTY = 0x2800
_DENSE = 6  # dots of eight that make "#"


def torque_text(plot: TorquePlot, *, columns: int = WIDTH, ascii_only: bool = False) -> str:
    """Draw torque in N mm against turns from full wind, as text.

    ``columns`` is its width in characters, 40 or more; ``ascii_only`` is for a terminal without
    braille.
    """
    canvas = Canvas(columns=columns, rows=_CURVE_ROWS + 1)
    left, bottom = 2.0 * _GUTTER, 4.0 * _CURVE_ROWS - 1
    traces = [plot.spring, *([plot.compared] if plot.compared else [])]
    most = [0.0, *(value for trace in traces for value in trace.high_nmm)]
    last = [0.0, *(trace.turns[-1] for trace in traces)]
    turns = axis_over(last, start_px=left, end_px=canvas.width - 6, most_ticks=9)
    torque = axis_over(most, start_px=bottom, end_px=2.0, most_ticks=5)
    _frame(canvas, turns, torque)
    spring, other = plot.spring, plot.compared
    _curve(canvas, spring.turns, spring.low_nmm, turns, torque, every=3)
    _curve(canvas, spring.turns, spring.high_nmm, turns, torque, every=3)
    if other:
        _curve(canvas, other.turns, other.middle_nmm, turns, torque, every=2)
    _curve(canvas, spring.turns, spring.middle_nmm, turns, torque)
    lines = textwrap.wrap("torque in N mm against barrel turns from full wind", columns)
    lines.append(canvas.text(ascii_only=ascii_only))
    for sentence in _told(plot):
        lines += textwrap.wrap(_plain(sentence, ascii_only), columns, subsequent_indent="  ")
    return "\n".join(lines)


def plan_text(plan: BarrelPlan, *, columns: int = WIDTH, ascii_only: bool = False) -> str:
    """Draw the barrel in plan as text: the bands of the coils filled, run down and wound.

    Sizes are above 0, the arbor smaller than the bore. ``columns`` and ``ascii_only`` are as in
    ``torque_text``.
    """
    views = views_of(plan)
    each = columns // 2
    rows = min(_PLAN_ROWS, each // 2)
    canvas = Canvas(columns=each * len(views), rows=_HEAD_ROWS + rows + 1)
    for i, view in enumerate(views):
        _view(canvas, plan, view.strip, i * each, each, rows)
        _letter(canvas, view, i * each, each, ascii_only)
    note = textwrap.wrap(_plain(misfit(plan), ascii_only), columns)
    return "\n".join([canvas.text(ascii_only=ascii_only), *note])


def _frame(canvas: Canvas, turns: Axis, torque: Axis) -> None:
    canvas.line(turns.start_px, torque.start_px, turns.end_px, torque.start_px)
    canvas.line(turns.start_px, torque.start_px, turns.start_px, torque.end_px)
    for tick in torque.ticks:
        text = torque.text(tick)
        canvas.write(_GUTTER - 1 - len(text), int(torque.px(tick) // 4), text)
    for tick in turns.ticks:
        text = turns.text(tick)
        canvas.write(int(turns.px(tick) // 2) - len(text) // 2, _CURVE_ROWS, text)


def _curve(
    canvas: Canvas,
    turns: tuple[float, ...],
    torque_nmm: tuple[float, ...],
    across: Axis,
    up: Axis,
    *,
    every: int = 1,
) -> None:
    """One dot a column of dots, or every second or third; straight between the points."""
    before = None
    for x in range(round(across.start_px), round(across.px(turns[-1])) + 1, every):
        at = min(across.low + (x - across.start_px) / across.px_per_unit, turns[-1])
        y = up.px(value_at(at, turns, torque_nmm))
        if before is not None and every == 1:
            canvas.line(x - 1, before, x, y)
        canvas.dot(x, y)
        before = y


def _told(plot: TorquePlot) -> Iterator[str]:
    """The lines below: which curve is which, where it stops, what is left after a day."""
    spring, other, day, share = plot.spring, plot.compared, plot.day_turns, plot.share_after_day
    yield f"line: {spring.name}, ends at {spring.turns[-1]:.1f} turns; dots: its limits"
    if other:
        yield f"dashes: {other.name}, ends at {other.turns[-1]:.1f} turns"
    if day is not None:
        left = ""
        if share is not None and day <= spring.turns[-1]:
            left = f" and leaves {100 * share:.0f} %"
        yield f"24 h takes {day:.1f} turns{left}"


def _view(
    canvas: Canvas, plan: BarrelPlan, strip: Strip | None, column: int, columns: int, rows: int
) -> None:
    """Wall, arbor and band of a view that begins at a column, under the rows of its head."""
    radius = 2.0 * rows - 1
    cx, cy = 2.0 * column + columns, 4.0 * _HEAD_ROWS + 2 * rows
    dots_per_mm = radius / (plan.bore.value_mm / 2)
    canvas.circle(cx, cy, radius)
    canvas.circle(
        cx, cy, plan.arbor.value_mm / 2 * dots_per_mm, every=2 if plan.arbor.assumed else 1
    )
    if strip:
        inner = strip.band_inner_mm / 2 * dots_per_mm
        outer = strip.band_outer_mm / 2 * dots_per_mm
        # A ring of no dots keeps the edge apart that the coils lie on.
        on_wall = strip.band_outer_mm >= plan.bore.value_mm
        inner, outer = (inner, outer - _APART) if on_wall else (inner + _APART, outer)
        _fill(canvas, cx, cy, inner, outer)


def _letter(canvas: Canvas, view: View, column: int, columns: int, ascii_only: bool) -> None:
    """Heading, note and upper diameter over a view, the lower one under it."""
    below = canvas.rows - 1
    texts = (view.heading, view.note, view.above.text, view.below.text)
    for row, text in zip((0, 1, 2, below), texts, strict=True):
        shown = _plain(text.replace("⌀ ", ""), ascii_only)
        canvas.write(column + (columns - len(shown)) // 2, row, shown)


def _plain(text: str, ascii_only: bool) -> str:
    shown = "".join(char if char.isprintable() else "?" for char in text)
    return shown.translate(_ASCII).encode("ascii", "replace").decode() if ascii_only else shown


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
        return "|" if len(alone) > 1 else "'" if alone[0] < 2 else "."
    slope = sum(right) / len(right) - sum(left) / len(left)
    if abs(slope) >= 1:
        return "\\" if slope > 0 else "/"
    return _dash_at((sum(left) + sum(right)) / (len(left) + len(right)))


def _dash_at(row: float) -> str:
    if row > 2.4:
        return "_"
    return "-" if row > 0.6 else '"'


def _fill(canvas: Canvas, cx: float, cy: float, inner: float, outer: float) -> None:
    for x in range(canvas.width):
        for y in range(canvas.height):
            if inner <= ((x - cx) ** 2 + (y - cy) ** 2) ** 0.5 <= outer:
                canvas.dot(x, y)
