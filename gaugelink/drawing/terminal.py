"""The torque curve and the barrel as text for a terminal, in braille dots or plain ASCII."""

from __future__ import annotations

import textwrap

from gaugelink.drawing.axis import Axis, axis_over
from gaugelink.drawing.canvas import Canvas
from gaugelink.drawing.plan_views import BarrelPlan, Diameter, Strip, View, misfit, views_of
from gaugelink.drawing.torque_trace import DAY_HOURS, TorquePlot, value_at

WIDTH = 78  # columns
_CURVE_ROWS = 14
_GUTTER = 7  # columns for the figures of the torque
_PLAN_ROWS = 18
_HEAD_ROWS = 3
_APART = 1.5
_ASCII = str.maketrans({"±": "+-", "×": "x", "…": "...", "⌀": "", "µ": "u"})


def torque_text(plot: TorquePlot, *, columns: int = WIDTH, ascii_only: bool = False) -> str:
    """Draw torque in N mm against turns from full wind, as text.

    Args:
        plot: the curves.
        columns: width of the text in characters, 40 or more.
        ascii_only: draw with ASCII where the terminal has no braille.
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

    Args:
        plan: what is in the barrel; sizes above 0, the arbor smaller than the bore.
        columns: width of the text in characters, 40 or more.
        ascii_only: draw with ASCII where the terminal has no braille.
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


def _told(plot: TorquePlot) -> list[str]:
    """The lines below: which curve is which, where it stops, what is left after a day."""
    spring = plot.spring
    told = [f"line: {spring.name}, stops at {spring.turns[-1]:.1f} turns; dots: its limits"]
    if plot.compared:
        other = plot.compared
        told.append(f"dashes: {other.name}, stops at {other.turns[-1]:.1f} turns")
    if plot.hours_per_turn:
        day = DAY_HOURS / plot.hours_per_turn
        whole = spring.middle_nmm[0]
        enough = day <= spring.turns[-1] and whole > 0
        left = f" and leaves {100 * spring.torque_at(day) / whole:.0f} %" if enough else ""
        told.append(f"24 h takes {day:.1f} turns{left}")
    return told


def _view(
    canvas: Canvas, plan: BarrelPlan, strip: Strip | None, column: int, columns: int, rows: int
) -> None:
    """Wall, arbor and band of a view that begins at a column, under the rows of its head."""
    radius = 2.0 * rows - 1
    cx, cy = 2.0 * column + columns, 4.0 * _HEAD_ROWS + 2 * rows
    dots_per_mm = radius / (plan.bore.value_mm / 2)
    canvas.circle(cx, cy, radius)
    canvas.circle(cx, cy, plan.arbor.value_mm / 2 * dots_per_mm, every=_every(plan))
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
    texts = (view.heading, view.note, _told_size(view.above), _told_size(view.below))
    for row, text in zip((0, 1, 2, below), texts, strict=True):
        shown = _plain(text, ascii_only)
        canvas.write(column + (columns - len(shown)) // 2, row, shown)


def _every(plan: BarrelPlan) -> int:
    return 2 if plan.arbor.assumed else 1


def _fill(canvas: Canvas, cx: float, cy: float, inner: float, outer: float) -> None:
    for x in range(canvas.width):
        for y in range(canvas.height):
            if inner <= ((x - cx) ** 2 + (y - cy) ** 2) ** 0.5 <= outer:
                canvas.dot(x, y)


def _told_size(size: Diameter) -> str:
    return size.text.replace("⌀ ", "")


def _plain(text: str, ascii_only: bool) -> str:
    shown = "".join(char if char.isprintable() else "?" for char in text)
    return shown.translate(_ASCII).encode("ascii", "replace").decode() if ascii_only else shown
