"""The readings of one measurand as dots over a scale in mm, with their mean and its interval.

Dots do not hide one another: they are stacked, as large as the height allows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from gaugelink.drawing import lettering, svg
from gaugelink.drawing.dimension import Axis, Dimension, Point, across, arrowhead, axis_across

_TOP = 96.0
_FOOT = 42.0  # for the figures of the axis
_LEAST_STACK_PX = 60.0
_CROSS_PX = 7.0
_RIM_PX, _DENSE_RIM_PX = 0.8, 0.2  # dense dots would be nothing but rims
_BEYOND = 0.6  # of the span of what is kept: rejected readings further off stand at the edge
_LEAST_SPAN_MM = 0.001  # of the scale, also when every reading is the same
_MOST_PX = 190.0
_RADII = (7.0, 6.0, 5.0, 4.0, 3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class DotReading:
    """A reading in mm, with the reason why it was rejected; empty for one that is kept."""

    value_mm: float
    rejected: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DotPlot:
    """The readings of a measurand, at least one, and what came of them."""

    measurand: str
    readings: tuple[DotReading, ...]
    mean: Dimension

    @property
    def rejected(self) -> tuple[DotReading, ...]:
        """The readings that are not in the mean."""
        return tuple(reading for reading in self.readings if reading.rejected)

    @property
    def count(self) -> str:
        """How many readings there are, and how many of them were rejected."""
        count = f"{len(self.readings)} reading{'s' if len(self.readings) != 1 else ''}"
        return f"{count}, {len(self.rejected)} rejected" if self.rejected else count


def draw_readings(
    plot: DotPlot, *, prefix: str, sheet: lettering.Sheet = lettering.Sheet.WIDE
) -> svg.Svg:
    """Draw readings in mm, rejected ones as crosses.

    There is at least one, and all are finite.
    """
    kept_mm = [reading.value_mm for reading in plot.readings if not reading.rejected]
    axis = _axis(plot, kept_mm, sheet)
    stack = stacked(kept_mm, axis)
    heading, top = _heading(plot, sheet)
    base = top + max(stack.height, _LEAST_STACK_PX)
    field = _Field(axis=axis, top=top, base=base, sheet=sheet)
    shown = svg.group(
        _interval(plot.mean, field),
        *_mean(plot.mean, field),
        _dots(stack, base),
        *_crosses(plot.rejected, field),
        data_px_per_mm=svg.measure(axis.px_per_unit),
        data_origin_mm=svg.measure(axis.low),
        data_origin_x=svg.measure(axis.start_px),
    )
    children = (*heading, *across(axis, base), shown)
    title = f"Readings of {plot.measurand}"
    caption = svg.Caption(prefix=prefix, title=title, desc=_described(plot))
    return svg.drawing(caption, sheet.width, base + _FOOT, children)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """A value in mm, its place across the sheet in px, and its level, 0 on the axis."""

    value_mm: float
    x: float
    level: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """Dots that do not overlap, one level upon another; sizes in px."""

    dots: tuple[Dot, ...]
    radius: float
    pitch: float
    height: float

    @property
    def is_dense(self) -> bool:
        """Whether each dot covers more than a quarter of the height of the one below it."""
        return self.pitch < 1.5 * self.radius


def stacked(values_mm: Sequence[float], axis: Axis) -> Stack:
    """Stack dots as large as the height allows; when the smallest are too many, press them."""
    for radius in _RADII:
        dots = _levels(values_mm, axis, 2 * radius + 1)
        levels = 1 + max((dot.level for dot in dots), default=0)
        pitch = 2 * radius + 1
        if levels * pitch <= _MOST_PX:
            break
    pitch = min(pitch, _MOST_PX / levels)
    return Stack(dots=dots, radius=radius, pitch=pitch, height=levels * pitch)


def _levels(values_mm: Sequence[float], axis: Axis, width: float) -> tuple[Dot, ...]:
    """Put each dot, from left to right, on the lowest level where it has room."""
    ends: list[float] = []
    dots = []
    for value in sorted(values_mm):
        x = axis.px(value)
        level = next((i for i, end in enumerate(ends) if end <= x - width), len(ends))
        if level == len(ends):
            ends.append(x)
        ends[level] = x
        dots.append(Dot(value_mm=value, x=x, level=level))
    return tuple(dots)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Field:
    """Where the dots lie: the axis across, from the top down to the axis, on a sheet."""

    axis: Axis
    top: float
    base: float
    sheet: lettering.Sheet


def _axis(plot: DotPlot, kept_mm: Sequence[float], sheet: lettering.Sheet) -> Axis:
    """Over what is kept and the interval, and over rejected readings that are not far off."""
    values = [*kept_mm, plot.mean.value_mm, plot.mean.low_mm, plot.mean.high_mm]
    low, high = min(values), max(values)
    widen = max(0.0, _LEAST_SPAN_MM - (high - low)) / 2
    low, high = low - widen, high + widen
    reach = _BEYOND * (high - low)
    near = [r.value_mm for r in plot.rejected if low - reach <= r.value_mm <= high + reach]
    return axis_across([low, high, *near], sheet)


def _heading(plot: DotPlot, sheet: lettering.Sheet) -> tuple[list[svg.Element], float]:
    """The mean and the number of readings; with it where the field below them begins."""
    room = sheet.width - 24
    figure = f"{plot.mean.text} mm"
    text = lettering.with_figure(
        plot.measurand, figure, lettering.FIGURE_PX * lettering.BOLD, room, sheet.name_lines
    )
    more = lettering.below(len(text) - 1, lettering.FIGURE_PX)
    head = lettering.labels(text, 12, 26, size_px=lettering.FIGURE_PX, bold=True)
    drawn = [*head, lettering.label(plot.count, 12, 52 + more)]
    return drawn, _TOP + more


def _dots(stack: Stack, base: float) -> svg.Element:
    """The dots in a group that carries their look once, for there may be hundreds."""
    dots = (
        svg.element(
            "circle",
            cx=dot.x,
            cy=base - (dot.level + 0.5) * stack.pitch,
            r=stack.radius,
            data_name="reading",
            data_mm=svg.measure(dot.value_mm),
        )
        for dot in stack.dots
    )
    look = {"class_": "spring-fill rim", "fill": "currentColor", "stroke": "white"}
    return svg.group(*dots, **look, stroke_width=_DENSE_RIM_PX if stack.is_dense else _RIM_PX)


def _interval(mean: Dimension, field: _Field) -> svg.Element:
    left, right = field.axis.px(mean.low_mm), field.axis.px(mean.high_mm)
    area = svg.box(left, field.top - 8, right - left, field.base - field.top + 8)
    return svg.filled(
        "band",
        area,
        fill_opacity=svg.BAND_OPACITY,
        data_name="interval",
        data_low_mm=svg.measure(mean.low_mm),
        data_high_mm=svg.measure(mean.high_mm),
    )


def _mean(mean: Dimension, field: _Field) -> Iterator[svg.Element]:
    x, top = field.axis.px(mean.value_mm), field.top
    text = "mean, interval shaded" if field.sheet is lettering.Sheet.WIDE else "mean"
    name = {"data_name": "mean", "data_mm": svg.measure(mean.value_mm)}
    yield svg.line(svg.CENTRE, x, top - 26, x, field.base, **name)
    fits = x + 8 + lettering.text_width(text, lettering.NOTE_PX) < field.sheet.width
    yield lettering.label(
        text, x + 8 if fits else x - 8, top - 14, anchor="start" if fits else "end"
    )


def _crosses(rejected: Sequence[DotReading], field: _Field) -> Iterator[svg.Element]:
    """A cross on the scale, or at its edge with an arrow, one over the other, when it is beyond."""
    axis, low = field.axis, field.base - _CROSS_PX - 3
    beyond = {True: 0, False: 0}
    for reading in rejected:
        if axis.low <= reading.value_mm <= axis.high:
            data = {"data_name": "rejected", "data_mm": svg.measure(reading.value_mm)}
            yield _cross(axis.px(reading.value_mm), low, **data)
            continue
        right = reading.value_mm > axis.high
        edge, away = (axis.end_px, 24) if right else (axis.start_px, -24)
        y = low - min(beyond[right], 2) * (2 * _CROSS_PX + 4)
        beyond[right] += 1
        yield _cross(edge, y, data_name="beyond")
        yield arrowhead(Point(x=edge + away, y=y), 0.0 if right else math.pi)


def _cross(x: float, y: float, **data: str) -> svg.Element:
    r = _CROSS_PX
    d = (
        f"M{x - r:.2f} {y - r:.2f}L{x + r:.2f} {y + r:.2f}"
        f"M{x - r:.2f} {y + r:.2f}L{x + r:.2f} {y - r:.2f}"
    )
    return svg.path(svg.ALARM, d, **data)


def _described(plot: DotPlot) -> str:
    values = [reading.value_mm for reading in plot.readings]
    told = f"{len(values)} readings from {min(values):g} to {max(values):g} mm; "
    told += f"mean and interval {plot.mean.text} mm."
    return told + "".join(f" Rejected: {r.value_mm:g} mm, {r.rejected}" for r in plot.rejected)
