"""The barrel cut along its axis, to scale: floor, wall, arbor, lid, spring and its clearance.

Half a section is drawn, from the axis to the wall, because the heights are small. What is
not measured (outer faces, pivots) is drawn with thin dashes. Each height has a column with
its dimension line, its text below and left of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.drawing import lettering, svg
from gaugelink.drawing.barrel_plan import run_down_spiral, strip_fits
from gaugelink.drawing.dimension import (
    BARREL_CUT,
    LID_CUT,
    OVERLAP,
    Dimension,
    Point,
    dimension_line,
    scale_bar,
)
from gaugelink.model import DepthReference
from gaugelink.sizing.rules import half_area_length

_SEAT_PX = 12.0  # what the lid rests on
_PIVOT = 0.5  # of the hub
_COIL_INK = 0.7
_LID_SHARE = 0.2  # of the depth: how thick a lid is drawn that was not measured
_SAME_MM = 1e-9
FLOOR_PX = 20.0  # thickness of the floor, which is not measured
_TOP_PX = 46.0
_HEIGHT_PX = 300.0
_FIRST_PX = 26.0  # from the wall to the first column
_FIRST_ROW_PX = FLOOR_PX + 34


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionSpring:
    """The spring in section; a length in mm that is not known is drawn as half the ring."""

    name: str
    height: Dimension
    thickness_mm: float
    length_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BarrelSection:
    """A barrel cut along its axis.

    Args:
        bore: inside diameter.
        arbor: diameter of the hub.
        depth: floor to ``depth_reference``.
        depth_reference: rim of the barrel, or seat of the lid.
        lid: thickness at the edge; None when not measured, which only a seat allows.
        recess: hollow on the inside of the lid; None for a flat lid.
        available: height left for the spring after the clearance.
        clearance: play above the spring.
        spring: None draws the barrel alone.
    """

    bore: Dimension
    arbor: Dimension
    depth: Dimension
    depth_reference: DepthReference
    lid: Dimension | None
    recess: Dimension | None
    available: Dimension
    clearance: Dimension
    spring: SectionSpring | None = None


def draw_barrel_section(
    section: BarrelSection, *, prefix: str, sheet: lettering.Sheet = lettering.Sheet.WIDE
) -> svg.Svg:
    """Draw the barrel in axial section.

    A spring that is too high is drawn over the lid at its true height, and marked. Sizes are
    above 0, the arbor smaller than the bore.
    """
    levels = levels_of(section)
    place = place_section(section, levels, sheet)
    heights = heights_of(section, levels)
    dimensions, foot = columns(heights, place)
    parts = svg.group(
        *_barrel(section, levels, place, prefix),
        *_lid(section, levels, place, prefix),
        *_inside(section, levels, place),
        *_spring(section, place, prefix, levels),
        *_arbor(section, levels, place),
        *dimensions,
        data_px_per_mm=svg.measure(place.px_per_mm),
        data_view="section",
    )
    alarm = lettering.broken(
        too_high(section), lettering.FIGURE_PX, sheet.width - 24, sheet.sentence_lines
    )
    alarms = lettering.labels(alarm, 12, foot + 6, size_px=lettering.FIGURE_PX, css="alarm-text")
    end = foot + 6 + lettering.below(len(alarms), lettering.FIGURE_PX)
    head = lettering.label("Half section", 12, 26, size_px=lettering.FIGURE_PX, bold=True)
    scale = scale_bar(place.px_per_mm, 12, end - lettering.NOTE_PX / 3)
    caption = svg.Caption(
        prefix=prefix, title="Barrel in section", desc=described(section, heights)
    )
    defs = tuple(hatch.pattern(prefix) for hatch in (BARREL_CUT, LID_CUT, OVERLAP))
    return svg.drawing(caption, sheet.width, end + 12, (head, parts, *alarms, scale), defs)


def too_high(section: BarrelSection) -> str:
    """Say that the spring touches the lid or takes its clearance; empty when it does neither."""
    if section.spring is None:
        return ""
    height, levels = section.spring.height.value_mm, levels_of(section)
    over = height - section.available.value_mm
    if levels.overlap_mm > _SAME_MM:
        return (
            f"The {section.spring.name} is {levels.overlap_mm:.2f} mm too high: it meets the lid."
        )
    if over > _SAME_MM:
        return f"The {section.spring.name} takes {over:.2f} mm of the clearance."
    return ""


def described(section: BarrelSection, heights: tuple[Height, ...]) -> str:
    """Tell a section in words: its heights, what was not measured, whether it is too high."""
    sizes = ", ".join(f"{height.name} {height.figure} mm" for height in heights)
    told = [f"From the floor upwards: {sizes}."]
    if section.lid is None:
        told.append("The lid was not measured and is drawn dashed.")
    if section.spring and section.spring.length_mm is None:
        told.append("The length is not known: the coils are drawn for half the ring.")
    return " ".join(filter(None, (*told, too_high(section))))


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Heights above the floor in mm: where the lid rests, its hollow, its top, the spring's top."""

    seat_mm: float
    underside_mm: float
    lid_top_mm: float
    spring_mm: float

    @property
    def overlap_mm(self) -> float:
        """By how much the spring is drawn into the lid; 0 when it is not."""
        return max(0.0, self.spring_mm - self.underside_mm)

    @property
    def top_mm(self) -> float:
        """The highest of all."""
        return max(self.lid_top_mm, self.spring_mm)


def levels_of(section: BarrelSection) -> Levels:
    """Return the heights of a section, in mm."""
    depth = section.depth.value_mm
    lid = section.lid.value_mm if section.lid else _LID_SHARE * depth
    seat = depth - lid if section.depth_reference is DepthReference.RIM else depth
    hollow = section.recess.value_mm if section.recess else 0.0
    return Levels(
        seat_mm=seat,
        underside_mm=seat + hollow,
        lid_top_mm=seat + lid,
        spring_mm=section.spring.height.value_mm if section.spring else 0.0,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Height:
    """A height to dimension: from where to where above the floor, and its figure."""

    name: str
    from_mm: float
    to_mm: float
    figure: str


def heights_of(section: BarrelSection, levels: Levels) -> tuple[Height, ...]:
    """Return the heights to dimension, from the one nearest to the wall outwards."""
    available = section.available
    depth = f"depth to {section.depth_reference.value}"
    heights = [
        _height("available height", 0.0, available),
        _height("clearance", levels.underside_mm - section.clearance.value_mm, section.clearance),
    ]
    if section.spring:
        heights.insert(0, _height(section.spring.name, 0.0, section.spring.height))
    if section.recess:
        heights.append(_height("recess", levels.seat_mm, section.recess))
    if section.lid:
        heights.append(_height("lid", levels.seat_mm, section.lid))
    heights.append(_height(depth, 0.0, section.depth))
    return tuple(h for h in heights if h.to_mm > h.from_mm)


def _height(name: str, from_mm: float, size: Dimension) -> Height:
    to_mm = from_mm + size.value_mm
    return Height(name=name, from_mm=from_mm, to_mm=to_mm, figure=size.text)


def coil_radii_mm(section: BarrelSection) -> tuple[float, ...]:
    """Return the radii at which the run-down coils are cut, in mm, outermost first."""
    if section.spring is None:
        return ()
    bore, arbor, e = section.bore.value_mm, section.arbor.value_mm, section.spring.thickness_mm
    length = section.spring.length_mm
    if length is None or not strip_fits(bore, arbor, e, length):
        length = half_area_length(bore, arbor, e)
    spiral = run_down_spiral(bore, e, length)
    return tuple(spiral.outer_mm - k * e for k in range(math.floor(spiral.turns) + 1))


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
    lettering.Sheet.WIDE: _Layout(left=34, half_bore=370, text=320, wall=26, column=35),
    lettering.Sheet.NARROW: _Layout(left=16, half_bore=240, text=240, wall=20, column=26),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionPlace:
    """Where mm lie on the sheet, and how far apart dimensions stand; all in px."""

    px_per_mm: float
    floor_y: float
    axis_x: float
    wall_x: float
    outer_x: float
    column: float
    name_lines: int

    def x(self, radius_mm: float) -> float:
        """Return where a radius ends."""
        return self.axis_x + radius_mm * self.px_per_mm

    def y(self, height_mm: float) -> float:
        """Return where a height above the floor ends."""
        return self.floor_y - height_mm * self.px_per_mm


def place_section(section: BarrelSection, levels: Levels, sheet: lettering.Sheet) -> SectionPlace:
    """Place a section as large as its radius and its height allow."""
    layout, radius = _LAYOUTS[sheet], section.bore.value_mm / 2
    px_per_mm = min(layout.half_bore / radius, _HEIGHT_PX / levels.top_mm)
    wide = radius * px_per_mm
    wall_x = layout.left + max(wide, layout.text)
    return SectionPlace(
        px_per_mm=px_per_mm,
        floor_y=_TOP_PX + levels.top_mm * px_per_mm,
        axis_x=wall_x - wide,
        wall_x=wall_x,
        outer_x=wall_x + layout.wall,
        column=layout.column,
        name_lines=sheet.name_lines,
    )


def _barrel(
    section: BarrelSection, levels: Levels, place: SectionPlace, prefix: str
) -> Iterator[svg.Element]:
    """Floor and wall: cut faces, with the step that the lid rests on."""
    wall, outer, floor = place.wall_x, place.outer_x, place.floor_y
    pivot = place.x(section.arbor.value_mm / 2 * _PIVOT)
    seat, rim = place.y(levels.seat_mm), place.y(levels.lid_top_mm)
    inside = ((pivot, floor), (wall, floor), (wall, seat), (wall + _SEAT_PX, seat))
    rim_edge = ((wall + _SEAT_PX, rim), (outer, rim))
    outside = ((outer, floor + FLOOR_PX), (pivot, floor + FLOOR_PX))
    face = svg.polyline((*inside, *rim_edge, *outside)) + "Z"
    yield svg.filled("hatch", face, fill=BARREL_CUT.fill(prefix))
    yield svg.path(svg.EDGE, svg.polyline((*inside[1:], *rim_edge)))
    yield svg.path(svg.UNMEASURED, svg.polyline((rim_edge[-1], *outside, inside[0])))


def _lid(
    section: BarrelSection, levels: Levels, place: SectionPlace, prefix: str
) -> Iterator[svg.Element]:
    """The lid on its seat, hollow over the bore when it has a recess."""
    pivot = place.x(section.arbor.value_mm / 2 * _PIVOT)
    edge = place.wall_x + _SEAT_PX
    top, seat, under = (
        place.y(mm) for mm in (levels.lid_top_mm, levels.seat_mm, levels.underside_mm)
    )
    hollow = ((place.wall_x, seat), (place.wall_x, under), (pivot, under))
    face = svg.polyline(((pivot, top), (edge, top), (edge, seat), *hollow)) + "Z"
    yield svg.filled("hatch", face, fill=LID_CUT.fill(prefix))
    yield svg.path(svg.EDGE if section.lid else svg.ASSUMED, face, data_name="lid face")


def _inside(section: BarrelSection, levels: Levels, place: SectionPlace) -> Iterator[svg.Element]:
    """The floor from the axis to the wall, and the wall up to the seat."""
    y, half = place.floor_y, section.bore.value_mm / 2
    name = {"data_name": "half bore", "data_mm": svg.measure(half)}
    yield svg.line(svg.EDGE, place.axis_x, y, place.wall_x, y, **name)
    name = {"data_name": "seat", "data_mm": svg.measure(levels.seat_mm)}
    yield svg.line(svg.EDGE, place.wall_x, y, place.wall_x, place.y(levels.seat_mm), **name)


def _spring(
    section: BarrelSection, place: SectionPlace, prefix: str, levels: Levels
) -> Iterator[svg.Element]:
    """The run-down coils as they are cut, the light band of the height, and any overlap."""
    radii = coil_radii_mm(section)
    if section.spring is None or not radii:
        return
    height, thickness = section.spring.height, section.spring.thickness_mm
    yield from _available_band(section, place)
    width = thickness * _COIL_INK * place.px_per_mm
    for radius in radii:
        yield svg.element(
            "rect",
            x=place.x(radius) - width / 2,
            y=place.y(height.value_mm),
            width=width,
            height=height.value_mm * place.px_per_mm,
            class_="spring-fill",
            fill="currentColor",
            stroke="none",
            data_name="coil",
            data_mm=svg.measure(height.value_mm),
        )
    if levels.overlap_mm > 0:
        left = place.x(radii[-1] - thickness / 2)
        tall = levels.overlap_mm * place.px_per_mm
        area = svg.box(left, place.y(height.value_mm), place.wall_x - left, tall)
        yield svg.filled("paper", area, fill="white", fill_opacity=0.5)
        yield svg.filled("hatch", area, fill=OVERLAP.fill(prefix))
        yield svg.path(svg.ALARM, area, data_name="overlap", data_mm=svg.measure(levels.overlap_mm))


def _available_band(section: BarrelSection, place: SectionPlace) -> Iterator[svg.Element]:
    low, high = section.available.low_mm, section.available.high_mm
    left = place.x(section.arbor.value_mm / 2)
    tall = (high - low) * place.px_per_mm
    if tall > 1:
        area = svg.box(left, place.y(high), place.wall_x - left, tall)
        yield svg.filled(
            "band", area, fill_opacity=svg.BAND_OPACITY, data_name="available interval"
        )
    y = place.y(section.available.value_mm)
    yield svg.line(svg.THIN, left, y, place.wall_x, y)


def _arbor(section: BarrelSection, levels: Levels, place: SectionPlace) -> Iterator[svg.Element]:
    """The hub uncut, as shafts are; its pivots are not measured."""
    hub = section.arbor.value_mm / 2
    top, under = place.y(levels.lid_top_mm) - 10, place.y(levels.underside_mm)
    bottom = place.floor_y + FLOOR_PX + 10
    pivot = place.x(hub * _PIVOT)
    pen = svg.ASSUMED if section.arbor.assumed else svg.EDGE
    yield svg.line(pen, place.x(hub), place.floor_y, place.x(hub), under)
    name = {"data_name": "half arbor", "data_mm": svg.measure(hub)}
    yield svg.line(pen, place.axis_x, under, place.x(hub), under, **name)
    yield svg.path(
        svg.UNMEASURED, svg.polyline(((place.axis_x, top), (pivot, top), (pivot, under)))
    )
    yield svg.path(
        svg.UNMEASURED,
        svg.polyline(((pivot, place.floor_y), (pivot, bottom), (place.axis_x, bottom))),
    )
    yield svg.line(svg.CENTRE, place.axis_x, top - 8, place.axis_x, bottom + 8)
    inside = place.axis_x + 12 + lettering.text_width("arbor", lettering.NOTE_PX) < place.x(hub)
    anchor: lettering.Anchor = "start" if inside else "end"
    x = place.axis_x + 6 if inside else place.axis_x - 10
    if inside or x > lettering.text_width("arbor", lettering.NOTE_PX):
        yield lettering.label("arbor", x, (place.floor_y + under) / 2 + 7, anchor=anchor)


def columns(heights: tuple[Height, ...], place: SectionPlace) -> tuple[list[svg.Element], float]:
    """Draw a column for each height, and tell where the row below the texts is.

    The further out the column, the lower the row: so no leader crosses a text.
    """
    drawn: list[svg.Element] = []
    row = place.floor_y + _FIRST_ROW_PX
    for i, height in enumerate(heights):
        x = place.outer_x + _FIRST_PX + i * place.column
        text = lettering.with_figure(
            height.name, height.figure, lettering.FIGURE_PX, x - 26, place.name_lines
        )
        drawn += _dimension(height, x, row, place)
        drawn += lettering.labels(text, x - 14, row, size_px=lettering.FIGURE_PX, anchor="end")
        row += lettering.below(len(text), lettering.FIGURE_PX)
    return drawn, row


def _dimension(height: Height, x: float, row: float, place: SectionPlace) -> Iterator[svg.Element]:
    low, high = place.y(height.from_mm), place.y(height.to_mm)
    for y in (low, high):
        yield svg.line(svg.THIN, place.wall_x, y, x + 6, y)
    yield svg.path(svg.THIN, svg.polyline(((x, low), (x, row - 7), (x - 8, row - 7))))
    ends = Point(x=x, y=low), Point(x=x, y=high)
    yield dimension_line(height.name, height.to_mm - height.from_mm, *ends)
