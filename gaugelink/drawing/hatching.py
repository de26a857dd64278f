"""Hatching: the pattern that marks a part as cut, another one for each part beside another."""

from __future__ import annotations

from dataclasses import dataclass

from gaugelink.drawing.pens import Pen, line
from gaugelink.drawing.svg import Element, element


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
