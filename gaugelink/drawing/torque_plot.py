"""Torque against barrel turns since full wind: the curve, its band, and what a day takes of it."""

from __future__ import annotations

from collections.abc import Iterator

from gaugelink.drawing.axis import across, upwards
from gaugelink.drawing.lettering import FIGURE_PX, LINE, NOTE_PX, label
from gaugelink.drawing.pens import (
    BAND_OPACITY,
    CENTRE,
    COMPARED,
    COMPARED_LIMIT,
    CURVE,
    THIN,
    Pen,
    circle,
    filled,
    line,
    path,
    polyline,
)
from gaugelink.drawing.sheet import Sheet
from gaugelink.drawing.svg import Caption, Element, Svg, drawing, group, measure
from gaugelink.drawing.torque_axes import TorqueAxes, axes_of
from gaugelink.drawing.torque_notes import torque_notes
from gaugelink.drawing.torque_trace import DAY_HOURS, TorquePlot, TorqueTrace


def draw_torque(plot: TorquePlot, *, prefix: str, sheet: Sheet = Sheet.WIDE) -> Svg:
    """Draw torque in N mm against turns from full wind.

    Args:
        plot: the curves.
        prefix: prefix of the ids.
        sheet: how wide it is drawn.
    """
    axes = axes_of(plot, sheet)
    below = axes.bottom + 34 + NOTE_PX * LINE
    turns = "barrel turns from full wind"
    children = (
        *across(axes.turns, axes.bottom, grid_to=axes.top),
        *upwards(axes.torque, axes.left, grid_to=axes.right),
        label("torque in N mm", 12, 26, size_px=FIGURE_PX),
        label(turns, axes.right, below, size_px=FIGURE_PX, anchor="end"),
        _curves(plot, axes),
        *torque_notes(plot, axes),
    )
    caption = Caption(prefix=prefix, title="Torque against turns", desc=_described(plot))
    return drawing(caption, sheet.width, below + 16, children)


def _curves(plot: TorquePlot, axes: TorqueAxes) -> Element:
    drawn = [_band(plot.spring, axes), *_edges(plot.spring, axes, THIN)]
    if plot.compared:
        drawn += [
            *_edges(plot.compared, axes, COMPARED_LIMIT),
            _middle(plot.compared, axes, COMPARED, "compared"),
        ]
    drawn += [_middle(plot.spring, axes, CURVE, "spring"), _end(plot.spring, axes)]
    if plot.hours_per_turn:
        drawn += _day(DAY_HOURS / plot.hours_per_turn, plot.spring, axes)
    return group(
        *drawn,
        data_px_per_turn=measure(axes.turns.px_per_unit),
        data_px_per_nmm=measure(-axes.torque.px_per_unit),
        data_origin_x=measure(axes.turns.px(0.0)),
        data_origin_y=measure(axes.torque.px(0.0)),
    )


def _points(
    turns: tuple[float, ...], torque: tuple[float, ...], axes: TorqueAxes
) -> tuple[tuple[float, float], ...]:
    pairs = zip(turns, torque, strict=True)
    return tuple((axes.turns.px(t), axes.torque.px(m)) for t, m in pairs)


def _band(trace: TorqueTrace, axes: TorqueAxes) -> Element:
    low = _points(trace.turns, trace.low_nmm, axes)
    high = _points(trace.turns, trace.high_nmm, axes)
    area = polyline((*high, *reversed(low))) + "Z"
    return filled("band", area, fill_opacity=BAND_OPACITY, data_name="band")


def _edges(trace: TorqueTrace, axes: TorqueAxes, pen: Pen) -> Iterator[Element]:
    for torque in (trace.low_nmm, trace.high_nmm):
        yield path(pen, polyline(_points(trace.turns, torque, axes)), data_name="limit")


def _middle(trace: TorqueTrace, axes: TorqueAxes, pen: Pen, name: str) -> Element:
    points = _points(trace.turns, trace.middle_nmm, axes)
    return path(pen, polyline(points), data_name=name)


def _end(trace: TorqueTrace, axes: TorqueAxes) -> Element:
    """A ring on the curve where the torque ends."""
    turns = trace.turns[-1]
    x, y = axes.turns.px(turns), axes.torque.px(trace.middle_nmm[-1])
    return circle(CURVE, x, y, 5.5, data_name="usable end", data_turns=measure(turns))


def _day(turns: float, spring: TorqueTrace, axes: TorqueAxes) -> Iterator[Element]:
    """The turns that 24 h take, where the spring gives them."""
    if turns <= spring.turns[-1]:
        x = axes.turns.px(turns)
        name = {"data_name": "24 h", "data_turns": measure(turns)}
        yield line(CENTRE, x, axes.bottom, x, axes.top, **name)


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
