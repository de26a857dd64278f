"""The workshop's lines: sizes with their dimension lines, axes with ticks, hatching, the scale.

The scale of a drawing is a bar of round mm, which stays true however wide the sheet is shown
or printed; hatching marks a part as cut, another pattern for each part beside another.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from gaugelink.drawing.lettering import NOTE_PX, Sheet, label, text_width
from gaugelink.drawing.svg import (
    EDGE,
    GRID,
    THIN,
    Element,
    Pen,
    element,
    filled,
    group,
    line,
    measure,
)

ARROW_PX = 13.0
_ARROW_SLENDER = 0.2  # half width over length
# Arrowheads point inwards from outside where there is no room for them between.
_ROOM_PX = 2.6 * ARROW_PX
_TAIL_PX = 8.0
_ROUND = (1.0, 2.0, 2.5, 5.0, 10.0)
_TICK_PX = 7.0
_APART_PX = 4.0
_MARGIN_PX = 52.0  # on either side of an axis over the whole width
_BAR_PX = 120.0  # a scale bar is no longer


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """A size with the limits of its interval, all in mm, and its figure as the page writes it.

    ``assumed`` says that nobody measured it.
    """

    value_mm: float
    low_mm: float
    high_mm: float
    figure: str
    assumed: bool = False

    @property
    def text(self) -> str:
        """The figure, with the word that says it was not measured."""
        return f"{self.figure} assumed" if self.assumed else self.figure


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A place on the sheet, in px."""

    x: float
    y: float


def dimension_line(name: str, value_mm: float, start: Point, end: Point) -> Element:
    """Draw a dimension line between two points; its length represents ``value_mm``."""
    length = math.hypot(end.x - start.x, end.y - start.y)
    inward = length < _ROOM_PX
    shaft = line(THIN, start.x, start.y, end.x, end.y, data_name=name, data_mm=measure(value_mm))
    along = math.atan2(end.y - start.y, end.x - start.x)
    heads = [
        arrowhead(start, along if inward else along + math.pi),
        arrowhead(end, along + math.pi if inward else along),
    ]
    tails = _tails(start, end, along) if inward else ()
    return group(_under(shaft), shaft, *tails, *heads)


def arrowhead(tip: Point, direction: float) -> Element:
    """Draw an arrowhead at its tip, pointing in a direction in radians."""
    back = ARROW_PX * math.cos(direction), ARROW_PX * math.sin(direction)
    base = Point(x=tip.x - back[0], y=tip.y - back[1])
    side = -back[1] * _ARROW_SLENDER, back[0] * _ARROW_SLENDER
    d = (
        f"M{tip.x:.2f} {tip.y:.2f}"
        f"L{base.x + side[0]:.2f} {base.y + side[1]:.2f}"
        f"L{base.x - side[0]:.2f} {base.y - side[1]:.2f}Z"
    )
    return filled("ink", d)


def extension_line(start: Point, end: Point) -> Element:
    """Draw the thin line from an edge to beyond its dimension line."""
    drawn = line(THIN, start.x, start.y, end.x, end.y)
    return group(_under(drawn), drawn)


def _tails(start: Point, end: Point, along: float) -> tuple[Element, ...]:
    reach = ARROW_PX + _TAIL_PX
    dx, dy = reach * math.cos(along), reach * math.sin(along)
    return (
        line(THIN, start.x - dx, start.y - dy, start.x, start.y),
        line(THIN, end.x, end.y, end.x + dx, end.y + dy),
    )


def _under(drawn: Element) -> Element:
    """Paper beneath a thin line, so that it stays visible across the coils."""
    ends = {k: v for k, v in drawn.attributes if k in ("x1", "y1", "x2", "y2")}
    return Element(
        tag="line",
        attributes=(*ends.items(), ("class", "halo"), ("stroke", "white"), ("stroke-width", "5")),
        children=(),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """A straight map from values to px; both ends are ticks, ``step`` apart or more."""

    low: float
    high: float
    step: float
    start_px: float
    end_px: float

    @property
    def px_per_unit(self) -> float:
        """Sheet px for one unit of the value; negative where values grow upwards."""
        return (self.end_px - self.start_px) / (self.high - self.low)

    def px(self, value: float) -> float:
        """Return where a value lies, in px."""
        return self.start_px + (value - self.low) * self.px_per_unit

    @property
    def ticks(self) -> tuple[float, ...]:
        """The multiples of the step on the axis, ends included."""
        first, last = round(self.low / self.step), round(self.high / self.step)
        return tuple(i * self.step for i in range(first, last + 1))

    def text(self, value: float) -> str:
        """Write a tick with the decimals of the step."""
        places = max(0, -math.floor(math.log10(self.step) + 1e-9))
        exact = round(self.step, places) == round(self.step, 12)
        written = f"{value:.{places if exact else places + 1}f}"
        return written.removeprefix("-") if float(written) == 0 else written


def round_step(span: float, most_ticks: int) -> float:
    """Return the smallest round step (1, 2, 2.5, 5) that divides a span into so many parts."""
    rough = span / most_ticks
    decade = 10.0 ** math.floor(math.log10(rough))
    return next(step * decade for step in _ROUND if step * decade >= rough * (1 - 1e-9))


def axis_over(values: Sequence[float], *, start_px: float, end_px: float, most_ticks: int) -> Axis:
    """Make an axis whose ends are ticks and that holds all values.

    The values, one or more, are finite; ``most_ticks`` is the most parts between ticks, 1 or
    more.
    """
    low, high = min(values), max(values)
    if high - low <= 1e-9 * max(abs(low), abs(high), 1e-3):
        margin = max(abs(low) * 0.01, 1e-3)
        low, high = low - margin, high + margin
    step = round_step(high - low, most_ticks)
    low, high = math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step
    return Axis(low=low, high=high, step=step, start_px=start_px, end_px=end_px)


def axis_across(values: Sequence[float], sheet: Sheet) -> Axis:
    """Make such an axis over the width of a sheet, with room for the figures at both ends."""
    end_px, most_ticks = sheet.width - _MARGIN_PX, sheet.most_ticks
    axis = axis_over(values, start_px=_MARGIN_PX, end_px=end_px, most_ticks=most_ticks)
    margin_px = max(_MARGIN_PX, _widest_px(axis) / 2 + 1)
    return replace(axis, start_px=margin_px, end_px=sheet.width - margin_px)


def _widest_px(axis: Axis) -> float:
    return max(text_width(axis.text(tick), NOTE_PX) for tick in axis.ticks)


def across(axis: Axis, y: float, *, grid_to: float | None = None) -> Iterator[Element]:
    """Draw an axis from left to right at y, its ticks below, its grid up to ``grid_to``.

    Where the figures of all ticks have no room side by side, every second or third has one.
    """
    every = math.ceil((_widest_px(axis) + _APART_PX) / (axis.step * abs(axis.px_per_unit)))
    for i, tick in enumerate(axis.ticks):
        x = axis.px(tick)
        if grid_to is not None:
            yield line(GRID, x, y, x, grid_to)
        yield line(THIN, x, y, x, y + _TICK_PX)
        if i % every == 0:
            yield label(axis.text(tick), x, y + _TICK_PX + NOTE_PX, anchor="middle", data_tick="x")
    yield line(THIN, axis.start_px, y, axis.end_px, y)


def upwards(axis: Axis, x: float, *, grid_to: float) -> Iterator[Element]:
    """Draw an axis from bottom to top at x, its ticks on the left, its grid to ``grid_to``."""
    for tick in axis.ticks:
        y = axis.px(tick)
        yield line(GRID, x, y, grid_to, y)
        yield line(THIN, x - _TICK_PX, y, x, y)
        text = axis.text(tick)
        yield label(text, x - _TICK_PX - 4, y + NOTE_PX / 3, anchor="end", data_tick="y")
    yield line(THIN, x, axis.start_px, x, axis.end_px)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hatch:
    """Parallel lines at an angle in degrees and a pitch in px, once or crossed."""

    name: str
    angle: float
    pitch: float
    pen: Pen
    crossed: bool = False

    def fill(self, prefix: str) -> str:
        """Return what a ``fill`` attribute says to use it."""
        return f"url(#{prefix}-{self.name})"

    def pattern(self, prefix: str) -> Element:
        """Make its definition, under an id that begins with the prefix."""
        middle = self.pitch / 2
        lines = [line(self.pen, middle, 0, middle, self.pitch)]
        if self.crossed:
            lines.append(line(self.pen, 0, middle, self.pitch, middle))
        return element(
            "pattern",
            *lines,
            id=f"{prefix}-{self.name}",
            patternUnits="userSpaceOnUse",
            width=self.pitch,
            height=self.pitch,
            patternTransform=f"rotate({self.angle:g})",
        )


BARREL_CUT = Hatch(name="barrel", angle=45, pitch=8, pen=Pen(css="thin", width=1.2))


LID_CUT = Hatch(name="lid", angle=-45, pitch=6, pen=Pen(css="thin", width=1.2))


OVERLAP = Hatch(name="overlap", angle=45, pitch=5, pen=Pen(css="alarm", width=2.0), crossed=True)


TYPE_A = Hatch(name="type-a", angle=45, pitch=7, pen=Pen(css="thin", width=2.4))


def scale_bar(px_per_mm: float, x: float, y: float) -> Element:
    """Draw a bar of 1, 2 or 5 mm, or ten times or a tenth that, from ``x`` on along ``y``.

    It is as long as the mm beside it at the drawing's own scale, and is scaled with it.
    """
    decade = 10 ** math.floor(math.log10(_BAR_PX / px_per_mm))
    steps = (step * decade for step in (5, 2, 1))
    long_mm = next((mm for mm in steps if mm * px_per_mm <= _BAR_PX), decade)
    end = x + long_mm * px_per_mm
    ticks = (line(EDGE, at, y - _TICK_PX, at, y + _TICK_PX) for at in (x, end))
    bar = line(EDGE, x, y, end, y, data_name="scale bar", data_mm=measure(long_mm))
    text = label(f"{long_mm:g} mm; sizes in mm", end + 2 * _TICK_PX, y + NOTE_PX / 3)
    return group(bar, *ticks, text)
