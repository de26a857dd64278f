"""Torque against barrel turns since full wind: the curve, its band, and what a day takes of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.drawing.axis import Axis, across, axis_over, upwards
from gaugelink.drawing.lettering import (
    FIGURE_PX,
    LINE,
    NOTE_PX,
    label,
    shortened,
    text_width,
)
from gaugelink.drawing.pens import (
    BAND_OPACITY,
    CENTRE,
    COMPARED,
    COMPARED_LIMIT,
    CURVE,
    THIN,
    Pen,
    circle,
    disc,
    filled,
    line,
    path,
    polyline,
)
from gaugelink.drawing.svg import Caption, Element, Svg, drawing, group, measure
from gaugelink.drawing.torque_trace import DAY_HOURS, TorquePlot, TorqueTrace

_WIDTH = 640.0
_LEFT, _RIGHT = 78.0, 612.0
_HEAD_PX = 40.0
_PLOT_PX = 300.0
_NAME_PX = 330.0
_NAMED_AT = 0.6  # of the turns: there the corner above the curve is free


@dataclass(frozen=True, slots=True, kw_only=True)
class _Axes:
    turns: Axis
    torque: Axis


def draw_torque(plot: TorquePlot, *, prefix: str) -> Svg:
    """Draw torque in N mm against turns from full wind.

    Args:
        plot: the curves.
        prefix: prefix of the ids.
    """
    axes = _axes(plot)
    bottom = axes.torque.start_px
    curves = [_band(plot.spring, axes), *_edges(plot.spring, axes, THIN)]
    if plot.compared:
        curves += [
            *_edges(plot.compared, axes, COMPARED_LIMIT),
            _middle(plot.compared, axes, COMPARED, "compared"),
        ]
    curves.append(_middle(plot.spring, axes, CURVE, "spring"))
    curves += _end(plot.spring, axes)
    if plot.hours_per_turn:
        curves += _day(plot.spring, plot.hours_per_turn, axes)
    shown = group(
        *curves,
        data_px_per_turn=measure(axes.turns.px_per_unit),
        data_px_per_nmm=measure(-axes.torque.px_per_unit),
        data_origin_x=measure(axes.turns.px(0.0)),
        data_origin_y=measure(axes.torque.px(0.0)),
    )
    below = bottom + 34 + NOTE_PX * LINE
    children = (
        *across(axes.turns, bottom, grid_to=axes.torque.end_px),
        *upwards(axes.torque, _LEFT, grid_to=_RIGHT),
        label("torque in N mm", 12, 26, size_px=FIGURE_PX),
        label("barrel turns from full wind", _RIGHT, below, size_px=FIGURE_PX, anchor="end"),
        shown,
        *_names(plot, axes),
    )
    caption = Caption(prefix=prefix, title="Torque against turns", desc=_described(plot))
    return drawing(caption, _WIDTH, below + 16, children)


def _axes(plot: TorquePlot) -> _Axes:
    traces = [plot.spring, *([plot.compared] if plot.compared else [])]
    turns = axis_over(
        [0.0, *(trace.turns[-1] for trace in traces)],
        start_px=_LEFT,
        end_px=_RIGHT,
        most_ticks=9,
    )
    torque = axis_over(
        [0.0, *(value for trace in traces for value in trace.high_nmm)],
        start_px=_HEAD_PX + _PLOT_PX,
        end_px=_HEAD_PX,
        most_ticks=6,
    )
    return _Axes(turns=turns, torque=torque)


def _points(
    turns: tuple[float, ...], torque: tuple[float, ...], axes: _Axes
) -> tuple[tuple[float, float], ...]:
    pairs = zip(turns, torque, strict=True)
    return tuple((axes.turns.px(t), axes.torque.px(m)) for t, m in pairs)


def _band(trace: TorqueTrace, axes: _Axes) -> Element:
    low = _points(trace.turns, trace.low_nmm, axes)
    high = _points(trace.turns, trace.high_nmm, axes)
    area = polyline((*high, *reversed(low))) + "Z"
    return filled("band", area, fill_opacity=BAND_OPACITY, data_name="band")


def _edges(trace: TorqueTrace, axes: _Axes, pen: Pen) -> Iterator[Element]:
    for torque in (trace.low_nmm, trace.high_nmm):
        yield path(pen, polyline(_points(trace.turns, torque, axes)), data_name="limit")


def _middle(trace: TorqueTrace, axes: _Axes, pen: Pen, name: str) -> Element:
    points = _points(trace.turns, trace.middle_nmm, axes)
    return path(pen, polyline(points), data_name=name)


def _end(trace: TorqueTrace, axes: _Axes) -> Iterator[Element]:
    """Where the torque ends: a ring on the curve, with the turns it gives."""
    turns = trace.turns[-1]
    x, y = axes.turns.px(turns), axes.torque.px(trace.middle_nmm[-1])
    yield circle(CURVE, x, y, 5.5, data_name="usable end", data_turns=measure(turns))
    text = f"stops at {turns:.1f}"
    fits = x - 36 - text_width(text, NOTE_PX) > _LEFT
    yield label(text, x - 36 if fits else x + 12, y - 10, anchor="end" if fits else "start")


def _day(spring: TorqueTrace, hours_per_turn: float, axes: _Axes) -> Iterator[Element]:
    """The turns that 24 h take, and the part of the first torque that is then left."""
    turns, top = DAY_HOURS / hours_per_turn, axes.torque.end_px
    if turns > spring.turns[-1]:
        yield label(f"24 h needs {turns:.1f} turns", _RIGHT, top + 20, anchor="end")
        return
    x = axes.turns.px(turns)
    name = {"data_name": "24 h", "data_turns": measure(turns)}
    yield line(CENTRE, x, axes.torque.start_px, x, top, **name)
    left, whole = spring.torque_at(turns), spring.middle_nmm[0]
    text = f"24 h: {left / whole:.0%} left" if whole > 0 else "24 h"
    fits = x + 8 + text_width(text, NOTE_PX) < _RIGHT
    yield label(text, x + 8 if fits else x - 8, top + 20, anchor="start" if fits else "end")


def _names(plot: TorquePlot, axes: _Axes) -> Iterator[Element]:
    """The names, the stronger spring's above the curves and the other's below them."""
    if plot.compared is None:
        yield from _name_above(plot.spring, axes)
        return
    at = 0.5 * min(plot.spring.turns[-1], plot.compared.turns[-1])
    traces = sorted((plot.compared, plot.spring), key=lambda trace: trace.torque_at(at))
    yield from _name_below(traces[0], axes)
    yield from _name_above(traces[1], axes)


def _name_above(trace: TorqueTrace, axes: _Axes) -> Iterator[Element]:
    name = shortened(trace.name, NOTE_PX, _NAME_PX)
    wide = text_width(name, NOTE_PX)
    x = min(_RIGHT - wide, axes.turns.px(_NAMED_AT * trace.turns[-1]))
    y = axes.torque.end_px + 54
    yield from _leader(trace, axes, x + 10, y + 6)
    yield label(name, x, y)


def _name_below(trace: TorqueTrace, axes: _Axes) -> Iterator[Element]:
    x, y = _LEFT + 14, axes.torque.start_px - 44
    yield from _leader(trace, axes, x + 10, y - NOTE_PX)
    yield label(shortened(trace.name, NOTE_PX, _NAME_PX), x, y)


def _leader(trace: TorqueTrace, axes: _Axes, x: float, y: float) -> Iterator[Element]:
    turns = axes.turns.low + (x - axes.turns.start_px) / axes.turns.px_per_unit
    end = axes.torque.px(trace.torque_at(turns))
    yield line(THIN, x, y, x, end)
    yield filled("ink", disc(x, end, 4))


def _described(plot: TorquePlot) -> str:
    spring = plot.spring
    parts = [
        f"{spring.name}: {spring.low_nmm[0]:.2f} to {spring.high_nmm[0]:.2f} N mm at full wind, "
        f"stops after {spring.turns[-1]:.1f} turns."
    ]
    if plot.hours_per_turn and DAY_HOURS / plot.hours_per_turn <= spring.turns[-1]:
        left = spring.torque_at(DAY_HOURS / plot.hours_per_turn)
        parts.append(f"After 24 h {left:.2f} N mm are left.")
    if plot.compared:
        other = plot.compared
        parts.append(
            f"Dashed for comparison, {other.name}: {other.middle_nmm[0]:.2f} N mm at full "
            f"wind, stops after {other.turns[-1]:.1f} turns."
        )
    return " ".join(parts)
