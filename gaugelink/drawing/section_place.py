"""Where a section lies on its sheet: its scale, its floor, its axis and its wall."""

from __future__ import annotations

from dataclasses import dataclass

from gaugelink.drawing.scale import Scale, scale_to_fit
from gaugelink.drawing.section_levels import BarrelSection, Levels
from gaugelink.drawing.sheet import Sheet

FLOOR_PX = 20.0  # thickness of the floor, which is not measured
_TOP_PX = 46.0
_HEIGHT_PX = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """How a sheet is divided, in px: left edge, half bore, wall, then columns of dimensions.

    ``text`` is the room left of the wall, also when the barrel is narrow.
    """

    left: float
    half_bore: float
    text: float
    wall: float
    column: float


_LAYOUTS = {
    Sheet.WIDE: _Layout(left=34, half_bore=370, text=320, wall=26, column=35),
    Sheet.NARROW: _Layout(left=16, half_bore=240, text=240, wall=20, column=26),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionPlace:
    """Where mm lie on the sheet, and how far apart dimensions stand; all in px but the scale."""

    scale: Scale
    floor_y: float
    axis_x: float
    wall_x: float
    outer_x: float
    column: float
    name_lines: int

    def x(self, radius_mm: float) -> float:
        """Return where a radius ends."""
        return self.axis_x + radius_mm * self.scale.px_per_mm

    def y(self, height_mm: float) -> float:
        """Return where a height above the floor ends."""
        return self.floor_y - height_mm * self.scale.px_per_mm


def place_section(section: BarrelSection, levels: Levels, sheet: Sheet) -> SectionPlace:
    """Place a section at the largest round scale at which radius and height fit."""
    layout, radius = _LAYOUTS[sheet], section.bore.value_mm / 2
    fits = (scale_to_fit(radius, layout.half_bore), scale_to_fit(levels.top_mm, _HEIGHT_PX))
    scale = min(fits, key=lambda s: s.ratio)
    wide = radius * scale.px_per_mm
    wall_x = layout.left + max(wide, layout.text)
    return SectionPlace(
        scale=scale,
        floor_y=_TOP_PX + levels.top_mm * scale.px_per_mm,
        axis_x=wall_x - wide,
        wall_x=wall_x,
        outer_x=wall_x + layout.wall,
        column=layout.column,
        name_lines=sheet.name_lines,
    )
