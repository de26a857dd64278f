"""The strip as it lies in the barrel: an Archimedean spiral of its true length.

The middle line of the strip begins half a thickness off the arbor, or ends half a thickness
off the wall, and climbs one thickness a turn; so between radii a and b it is
pi (b^2 - a^2) / e long.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from gaugelink.sizing.rules import run_down_inner_diameter, wound_outer_diameter

_ARCS_PER_TURN = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Spiral:
    """The middle line of a strip, from the inside out; radii in mm."""

    inner_mm: float
    outer_mm: float
    pitch_mm: float

    @property
    def turns(self) -> float:
        """How often it goes round."""
        return (self.outer_mm - self.inner_mm) / self.pitch_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Centre:
    """Where the axis of a view stands on the sheet, in px, and its scale."""

    x: float
    y: float
    px_per_mm: float


def run_down_spiral(bore_mm: float, thickness_mm: float, length_mm: float) -> Spiral:
    """Lay a strip against the wall; all in mm, the strip must fit in the bore."""
    middle = bore_mm - thickness_mm
    inner = run_down_inner_diameter(middle, thickness_mm, length_mm)
    return Spiral(inner_mm=inner / 2, outer_mm=middle / 2, pitch_mm=thickness_mm)


def wound_spiral(arbor_mm: float, thickness_mm: float, length_mm: float) -> Spiral:
    """Lay a strip on the arbor; all in mm."""
    middle = arbor_mm + thickness_mm
    outer = wound_outer_diameter(middle, thickness_mm, length_mm)
    return Spiral(inner_mm=middle / 2, outer_mm=outer / 2, pitch_mm=thickness_mm)


def strip_fits(bore_mm: float, arbor_mm: float, thickness_mm: float, length_mm: float) -> bool:
    """Whether a strip lies between arbor and wall, wound and run down alike."""
    room = (bore_mm - thickness_mm) ** 2 - (arbor_mm + thickness_mm) ** 2
    return thickness_mm > 0 and 0 < 4 * length_mm * thickness_mm / math.pi < room


def spiral_path(spiral: Spiral, centre: Centre, start: float) -> str:
    """Write the path of a spiral, clockwise from an angle in radians at its inner end.

    An arc of an eighth of a turn is a cubic curve that has the spiral's ends and slopes.
    """
    count = max(1, math.ceil(abs(spiral.turns) * _ARCS_PER_TURN))
    step = spiral.turns * 2 * math.pi / count
    reach = 4 / 3 * math.tan(step / 4)  # exact ends and middle on a circle
    places = [_place(spiral, centre, start, i * step) for i in range(count + 1)]
    parts = [f"M{places[0][0]:.2f} {places[0][1]:.2f}"]
    for (x1, y1, dx1, dy1), (x2, y2, dx2, dy2) in pairwise(places):
        parts.append(
            f"C{x1 + reach * dx1:.2f} {y1 + reach * dy1:.2f}"
            f" {x2 - reach * dx2:.2f} {y2 - reach * dy2:.2f} {x2:.2f} {y2:.2f}"
        )
    return "".join(parts)


def _place(
    spiral: Spiral, centre: Centre, start: float, angle: float
) -> tuple[float, float, float, float]:
    """Return x, y and their derivatives by the angle, in px."""
    climb = spiral.pitch_mm / (2 * math.pi) * centre.px_per_mm
    radius = spiral.inner_mm * centre.px_per_mm + climb * angle
    cos, sin = math.cos(start + angle), math.sin(start + angle)
    return (
        centre.x + radius * cos,
        centre.y + radius * sin,
        climb * cos - radius * sin,
        climb * sin + radius * cos,
    )
