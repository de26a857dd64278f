"""A measured or assumed size, and the line with two arrowheads that shows it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from gaugelink.drawing.pens import THIN, Pen, filled, line
from gaugelink.drawing.svg import Element, group, measure

ARROW_PX = 13.0
_ARROW_SLENDER = 0.2  # half width over length
# Arrowheads point inwards from outside where there is no room for them between.
_ROOM_PX = 2.6 * ARROW_PX
_TAIL_PX = 8.0

_HALO = Pen(css="halo", width=5.0)


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
    """Draw a dimension line between two points; its length stands for ``value_mm``.

    Args:
        name: what is dimensioned.
        value_mm: the size in mm, kept in ``data-mm``.
        start: one end of the size.
        end: the other end, not the same point.
    """
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
