"""The barrel cut along its axis, to scale: floor, wall, arbor, lid, spring and its clearance.

Half a section is drawn, from the axis to the wall, because the heights are small. What is
not measured (outer faces, pivots) is drawn with thin dashes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.drawing.dimension import Point, dimension_line
from gaugelink.drawing.hatching import BARREL_CUT, LID_CUT, OVERLAP
from gaugelink.drawing.lettering import (
    FIGURE_PX,
    LINE,
    NOTE_PX,
    Anchor,
    broken,
    label,
    labels,
    text_width,
    with_figure,
)
from gaugelink.drawing.pens import (
    ALARM,
    ASSUMED,
    BAND_OPACITY,
    CENTRE,
    EDGE,
    THIN,
    UNMEASURED,
    box,
    filled,
    line,
    path,
    polyline,
)
from gaugelink.drawing.scale import Scale, scale_to_fit
from gaugelink.drawing.section_levels import (
    BarrelSection,
    Height,
    Levels,
    coil_radii_mm,
    described,
    heights_of,
    levels_of,
    too_high,
)
from gaugelink.drawing.svg import Caption, Element, Svg, drawing, element, group, measure

_WIDTH = 640.0
_LEFT_PX = 34.0
_HALF_BORE_PX = 370.0
_TEXT_PX = 320.0  # room for the figures left of the wall, also when the barrel is narrow
_HEIGHT_PX = 300.0
_TOP_PX = 46.0
_WALL_PX = 26.0
_SEAT_PX = 12.0  # what the lid rests on
_FLOOR_PX = 20.0
_PIVOT = 0.5  # of the hub
_COIL_INK = 0.7
_COLUMN_PX = 35.0
_ROW_PX = FIGURE_PX * LINE


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """Where mm lie on the sheet."""

    scale: Scale
    floor_y: float
    axis_x: float
    wall_x: float

    def x(self, radius_mm: float) -> float:
        return self.axis_x + radius_mm * self.scale.px_per_mm

    def y(self, height_mm: float) -> float:
        return self.floor_y - height_mm * self.scale.px_per_mm


def draw_barrel_section(section: BarrelSection, *, prefix: str) -> Svg:
    """Draw the barrel in axial section.

    A spring that is too high is drawn over the lid at its true height, and marked.

    Args:
        section: the barrel and its spring; sizes above 0, the arbor smaller than the bore.
        prefix: prefix of the ids.
    """
    levels = levels_of(section)
    sheet = _sheet(section, levels)
    heights = heights_of(section, levels)
    first_row = sheet.floor_y + _FLOOR_PX + 34
    parts = group(
        *_cut(section, levels, sheet, prefix),
        *_spring(section, sheet, prefix, levels),
        *_arbor(section, levels, sheet),
        *_columns(heights, sheet, first_row),
        data_px_per_mm=measure(sheet.scale.px_per_mm),
        data_view="section",
    )
    foot = first_row + len(heights) * _ROW_PX + 6
    alarm = broken(too_high(section), FIGURE_PX, _WIDTH - 24, 3)
    alarms = labels(alarm, 12, foot, size_px=FIGURE_PX, css="alarm-text")
    end = foot + len(alarms) * _ROW_PX
    head = label("Half section", 12, 26, size_px=FIGURE_PX, bold=True)
    scale = label(f"scale {sheet.scale.text}, sizes in mm", 12, end)
    caption = Caption(prefix=prefix, title="Barrel in section", desc=described(section, heights))
    defs = tuple(hatch.pattern(prefix) for hatch in (BARREL_CUT, LID_CUT, OVERLAP))
    return drawing(caption, _WIDTH, end + 12, (head, parts, *alarms, scale), defs)


def _sheet(section: BarrelSection, levels: Levels) -> _Sheet:
    radius = section.bore.value_mm / 2
    fits = (scale_to_fit(radius, _HALF_BORE_PX), scale_to_fit(levels.top_mm, _HEIGHT_PX))
    scale = min(fits, key=lambda s: s.ratio)
    wide = radius * scale.px_per_mm
    wall_x = _LEFT_PX + max(wide, _TEXT_PX)
    return _Sheet(
        scale=scale,
        floor_y=_TOP_PX + levels.top_mm * scale.px_per_mm,
        axis_x=wall_x - wide,
        wall_x=wall_x,
    )


def _cut(section: BarrelSection, levels: Levels, sheet: _Sheet, prefix: str) -> Iterator[Element]:
    yield from _barrel(section, levels, sheet, prefix)
    yield from _lid(section, levels, sheet, prefix)
    y, half = sheet.floor_y, section.bore.value_mm / 2
    name = {"data_name": "half bore", "data_mm": measure(half)}
    yield line(EDGE, sheet.axis_x, y, sheet.wall_x, y, **name)
    name = {"data_name": "seat", "data_mm": measure(levels.seat_mm)}
    yield line(EDGE, sheet.wall_x, y, sheet.wall_x, sheet.y(levels.seat_mm), **name)


def _barrel(
    section: BarrelSection, levels: Levels, sheet: _Sheet, prefix: str
) -> Iterator[Element]:
    """Floor and wall: cut faces, with the step that the lid rests on."""
    wall, outer, floor = sheet.wall_x, sheet.wall_x + _WALL_PX, sheet.floor_y
    pivot = sheet.x(section.arbor.value_mm / 2 * _PIVOT)
    seat, rim = sheet.y(levels.seat_mm), sheet.y(levels.lid_top_mm)
    inside = ((pivot, floor), (wall, floor), (wall, seat), (wall + _SEAT_PX, seat))
    rim_edge = ((wall + _SEAT_PX, rim), (outer, rim))
    outside = ((outer, floor + _FLOOR_PX), (pivot, floor + _FLOOR_PX))
    face = polyline((*inside, *rim_edge, *outside)) + "Z"
    yield filled("hatch", face, fill=BARREL_CUT.fill(prefix))
    yield path(EDGE, polyline((*inside[1:], *rim_edge)))
    yield path(UNMEASURED, polyline((rim_edge[-1], *outside, inside[0])))


def _lid(section: BarrelSection, levels: Levels, sheet: _Sheet, prefix: str) -> Iterator[Element]:
    """The lid on its seat, hollow over the bore when it has a recess."""
    pivot = sheet.x(section.arbor.value_mm / 2 * _PIVOT)
    edge = sheet.wall_x + _SEAT_PX
    top, seat, under = (
        sheet.y(mm) for mm in (levels.lid_top_mm, levels.seat_mm, levels.underside_mm)
    )
    hollow = ((sheet.wall_x, seat), (sheet.wall_x, under), (pivot, under))
    face = polyline(((pivot, top), (edge, top), (edge, seat), *hollow)) + "Z"
    yield filled("hatch", face, fill=LID_CUT.fill(prefix))
    yield path(EDGE if section.lid else ASSUMED, face, data_name="lid face")


def _spring(
    section: BarrelSection, sheet: _Sheet, prefix: str, levels: Levels
) -> Iterator[Element]:
    """The run-down coils as they are cut, the light band of the height, and any overlap."""
    radii = coil_radii_mm(section)
    if section.spring is None or not radii:
        return
    height, thickness = section.spring.height, section.spring.thickness_mm
    yield from _available_band(section, sheet)
    width = thickness * _COIL_INK * sheet.scale.px_per_mm
    for radius in radii:
        yield element(
            "rect",
            x=sheet.x(radius) - width / 2,
            y=sheet.y(height.value_mm),
            width=width,
            height=height.value_mm * sheet.scale.px_per_mm,
            class_="spring-fill",
            fill="currentColor",
            data_name="coil",
            data_mm=measure(height.value_mm),
        )
    if levels.overlap_mm > 0:
        left = sheet.x(radii[-1] - thickness / 2)
        tall = levels.overlap_mm * sheet.scale.px_per_mm
        area = box(left, sheet.y(height.value_mm), sheet.wall_x - left, tall)
        yield filled("paper", area, fill="white", fill_opacity=0.5)
        yield filled("hatch", area, fill=OVERLAP.fill(prefix))
        yield path(ALARM, area, data_name="overlap", data_mm=measure(levels.overlap_mm))


def _available_band(section: BarrelSection, sheet: _Sheet) -> Iterator[Element]:
    low, high = section.available.low_mm, section.available.high_mm
    left = sheet.x(section.arbor.value_mm / 2)
    tall = (high - low) * sheet.scale.px_per_mm
    if tall > 1:
        area = box(left, sheet.y(high), sheet.wall_x - left, tall)
        yield filled("band", area, fill_opacity=BAND_OPACITY, data_name="available interval")
    y = sheet.y(section.available.value_mm)
    yield line(THIN, left, y, sheet.wall_x, y)


def _arbor(section: BarrelSection, levels: Levels, sheet: _Sheet) -> Iterator[Element]:
    """The hub uncut, as shafts are; its pivots are not measured."""
    hub = section.arbor.value_mm / 2
    top, under = sheet.y(levels.lid_top_mm) - 10, sheet.y(levels.underside_mm)
    bottom = sheet.floor_y + _FLOOR_PX + 10
    pivot = sheet.x(hub * _PIVOT)
    pen = ASSUMED if section.arbor.assumed else EDGE
    yield line(pen, sheet.x(hub), sheet.floor_y, sheet.x(hub), under)
    name = {"data_name": "half arbor", "data_mm": measure(hub)}
    yield line(pen, sheet.axis_x, under, sheet.x(hub), under, **name)
    yield path(UNMEASURED, polyline(((sheet.axis_x, top), (pivot, top), (pivot, under))))
    yield path(
        UNMEASURED, polyline(((pivot, sheet.floor_y), (pivot, bottom), (sheet.axis_x, bottom)))
    )
    yield line(CENTRE, sheet.axis_x, top - 8, sheet.axis_x, bottom + 8)
    inside = sheet.axis_x + 12 + text_width("arbor", NOTE_PX) < sheet.x(hub)
    anchor: Anchor = "start" if inside else "end"
    x = sheet.axis_x + 6 if inside else sheet.axis_x - 10
    if inside or x > text_width("arbor", NOTE_PX):
        yield label("arbor", x, (sheet.floor_y + under) / 2 + 7, anchor=anchor)


def _columns(heights: tuple[Height, ...], sheet: _Sheet, first_row: float) -> Iterator[Element]:
    """A dimension line a column, its text on a row of its own below and left of it.

    The further out the column, the lower the row: so no leader crosses a text.
    """
    outer = sheet.wall_x + _WALL_PX
    for i, height in enumerate(heights):
        x = outer + 26 + i * _COLUMN_PX
        low, high = sheet.y(height.from_mm), sheet.y(height.to_mm)
        for y in (low, high):
            yield line(THIN, sheet.wall_x, y, x + 6, y)
        row = first_row + i * _ROW_PX
        yield path(THIN, polyline(((x, low), (x, row - 7), (x - 8, row - 7))))
        ends = Point(x=x, y=low), Point(x=x, y=high)
        yield dimension_line(height.name, height.to_mm - height.from_mm, *ends)
        text = with_figure(height.name, height.figure, FIGURE_PX, x - 26)
        yield label(text, x - 14, row, size_px=FIGURE_PX, anchor="end")
