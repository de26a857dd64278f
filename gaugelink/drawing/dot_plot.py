"""The readings of one measurand as dots over a scale in mm, with their mean and its interval."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from gaugelink.drawing.axis import Axis, across, axis_over
from gaugelink.drawing.dimension import Dimension, Point, arrowhead
from gaugelink.drawing.lettering import (
    BOLD,
    FIGURE_PX,
    LINE,
    NOTE_PX,
    broken,
    label,
    text_width,
    with_figure,
)
from gaugelink.drawing.pens import (
    ALARM,
    BAND_OPACITY,
    CENTRE,
    box,
    filled,
    line,
    path,
)
from gaugelink.drawing.svg import Caption, Element, Svg, drawing, element, group, measure

_WIDTH = 640.0
_LEFT, _RIGHT = 52.0, 588.0
_TOP = 96.0
_STACK_PX = 190.0
_LEAST_STACK_PX = 60.0
_RADII = (7.0, 6.0, 5.0, 4.0)
_CROSS_PX = 7.0
_BEYOND = 0.6  # of the span of what is kept: rejected readings further off stand at the edge
_MOST_REASONS = 4
_LEAST_SPAN_MM = 0.001  # of the scale, also when every reading is the same


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Dot:
    value_mm: float
    x: float
    level: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stack:
    """Dots that do not overlap, one level upon another."""

    dots: tuple[_Dot, ...]
    radius: float
    pitch: float
    height: float


def draw_readings(plot: DotPlot, *, prefix: str) -> Svg:
    """Draw readings in mm, rejected ones as crosses with their reasons.

    Args:
        plot: finite readings, at least one.
        prefix: prefix of the ids.
    """
    rejected = [reading for reading in plot.readings if reading.rejected]
    axis = _axis(plot, rejected)
    stack = _stacked([r.value_mm for r in plot.readings if not r.rejected], axis)
    base = _TOP + max(stack.height, _LEAST_STACK_PX)
    shown = group(
        _interval(plot.mean, axis, base),
        *_mean(plot.mean, axis, base),
        *_dots(stack, base),
        *_crosses(rejected, axis, base),
        data_px_per_mm=measure(axis.px_per_unit),
        data_origin_mm=measure(axis.low),
        data_origin_x=measure(axis.start_px),
    )
    reasons, end = _reasons(rejected, base + 66)
    children = (*_heading(plot, len(rejected)), *across(axis, base), shown, *reasons)
    caption = Caption(
        prefix=prefix, title=f"Readings of {plot.measurand}", desc=_described(plot, rejected)
    )
    return drawing(caption, _WIDTH, end, children)


def _axis(plot: DotPlot, rejected: Sequence[DotReading]) -> Axis:
    """Over what is kept and the interval, and over rejected readings that are not far off."""
    values = [r.value_mm for r in plot.readings if not r.rejected]
    values += [plot.mean.value_mm, plot.mean.low_mm, plot.mean.high_mm]
    low, high = min(values), max(values)
    widen = max(0.0, _LEAST_SPAN_MM - (high - low)) / 2
    low, high = low - widen, high + widen
    reach = _BEYOND * (high - low)
    near = [r.value_mm for r in rejected if low - reach <= r.value_mm <= high + reach]
    return axis_over([low, high, *near], start_px=_LEFT, end_px=_RIGHT, most_ticks=5)


def _stacked(values_mm: Sequence[float], axis: Axis) -> _Stack:
    """Stack dots as large as the height allows; when the smallest are too many, press them."""
    for radius in _RADII:
        dots = _levels(values_mm, axis, 2 * radius + 1)
        levels = 1 + max((dot.level for dot in dots), default=0)
        pitch = 2 * radius + 1
        if levels * pitch <= _STACK_PX:
            break
    pitch = min(pitch, _STACK_PX / levels)
    return _Stack(dots=dots, radius=radius, pitch=pitch, height=levels * pitch)


def _levels(values_mm: Sequence[float], axis: Axis, width: float) -> tuple[_Dot, ...]:
    """Put each dot, from left to right, on the lowest level where it has room."""
    ends: list[float] = []
    dots = []
    for value in sorted(values_mm):
        x = axis.px(value)
        level = next((i for i, end in enumerate(ends) if end <= x - width), len(ends))
        if level == len(ends):
            ends.append(x)
        ends[level] = x
        dots.append(_Dot(value_mm=value, x=x, level=level))
    return tuple(dots)


def _dots(stack: _Stack, base: float) -> Iterator[Element]:
    for dot in stack.dots:
        yield element(
            "circle",
            cx=dot.x,
            cy=base - (dot.level + 0.5) * stack.pitch,
            r=stack.radius,
            class_="spring-fill rim",
            fill="currentColor",
            stroke="white",
            stroke_width=0.8,
            data_name="reading",
            data_mm=measure(dot.value_mm),
        )


def _interval(mean: Dimension, axis: Axis, base: float) -> Element:
    left, right = axis.px(mean.low_mm), axis.px(mean.high_mm)
    area = box(left, _TOP - 8, right - left, base - _TOP + 8)
    return filled(
        "band",
        area,
        fill_opacity=BAND_OPACITY,
        data_name="interval",
        data_low_mm=measure(mean.low_mm),
        data_high_mm=measure(mean.high_mm),
    )


def _mean(mean: Dimension, axis: Axis, base: float) -> Iterator[Element]:
    x, text = axis.px(mean.value_mm), "mean, interval shaded"
    name = {"data_name": "mean", "data_mm": measure(mean.value_mm)}
    yield line(CENTRE, x, _TOP - 26, x, base, **name)
    fits = x + 8 + text_width(text, NOTE_PX) < _WIDTH
    yield label(text, x + 8 if fits else x - 8, _TOP - 14, anchor="start" if fits else "end")


def _crosses(rejected: Sequence[DotReading], axis: Axis, base: float) -> Iterator[Element]:
    """A cross on the scale, or at its edge with an arrow, one over the other, when it is beyond."""
    low = base - _CROSS_PX - 3
    beyond = {True: 0, False: 0}
    for reading in rejected:
        if axis.low <= reading.value_mm <= axis.high:
            data = {"data_name": "rejected", "data_mm": measure(reading.value_mm)}
            yield _cross(axis.px(reading.value_mm), low, **data)
            continue
        right = reading.value_mm > axis.high
        y = low - min(beyond[right], 2) * (2 * _CROSS_PX + 4)
        beyond[right] += 1
        tip = Point(x=_RIGHT + 24 if right else _LEFT - 24, y=y)
        yield _cross(_RIGHT if right else _LEFT, y, data_name="beyond")
        yield arrowhead(tip, 0.0 if right else math.pi)


def _cross(x: float, y: float, **data: str) -> Element:
    r = _CROSS_PX
    d = (
        f"M{x - r:.2f} {y - r:.2f}L{x + r:.2f} {y + r:.2f}"
        f"M{x - r:.2f} {y + r:.2f}L{x + r:.2f} {y - r:.2f}"
    )
    return path(ALARM, d, **data)


def _heading(plot: DotPlot, rejected: int) -> Iterator[Element]:
    room = _WIDTH - 24
    text = with_figure(plot.measurand, f"{plot.mean.text} mm", FIGURE_PX * BOLD, room)
    yield label(text, 12, 26, size_px=FIGURE_PX, bold=True)
    count = f"{len(plot.readings)} reading{'s' if len(plot.readings) != 1 else ''}"
    yield label(f"{count}, {rejected} rejected" if rejected else count, 12, 52)


def _reasons(rejected: Sequence[DotReading], top: float) -> tuple[list[Element], float]:
    """A cross, the value and the reason of each; the rest is counted."""
    drawn: list[Element] = []
    y = top
    for reading in rejected[:_MOST_REASONS]:
        drawn.append(_cross(12 + _CROSS_PX, y - 7))
        text = f"{reading.value_mm:g} mm: {reading.rejected}"
        for row in broken(text, NOTE_PX, _WIDTH - 48, 3):
            drawn.append(label(row, 36, y))
            y += NOTE_PX * LINE
    if len(rejected) > _MOST_REASONS:
        drawn.append(label(f"and {len(rejected) - _MOST_REASONS} more rejected", 36, y))
        y += NOTE_PX * LINE
    return drawn, y - 10


def _described(plot: DotPlot, rejected: Sequence[DotReading]) -> str:
    values = [reading.value_mm for reading in plot.readings]
    told = f"{len(values)} readings from {min(values):g} to {max(values):g} mm; "
    told += f"mean and interval {plot.mean.text} mm."
    return told + "".join(f" Rejected: {r.value_mm:g} mm, {r.rejected}" for r in rejected)
