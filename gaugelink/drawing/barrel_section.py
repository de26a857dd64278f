"""The barrel cut along its axis, to scale: floor, wall, arbor, lid, spring and its clearance.

Half a section is drawn, from the axis to the wall, because the heights are small. What is
not measured (outer faces, pivots) is drawn with thin dashes.
"""

from __future__ import annotations

from collections.abc import Iterator

from gaugelink.drawing.hatching import BARREL_CUT, LID_CUT, OVERLAP
from gaugelink.drawing.lettering import (
    FIGURE_PX,
    NOTE_PX,
    Anchor,
    below,
    broken,
    label,
    labels,
    text_width,
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
from gaugelink.drawing.section_columns import columns
from gaugelink.drawing.section_levels import (
    BarrelSection,
    Levels,
    coil_radii_mm,
    described,
    heights_of,
    levels_of,
    too_high,
)
from gaugelink.drawing.section_place import FLOOR_PX, SectionPlace, place_section
from gaugelink.drawing.sheet import Sheet
from gaugelink.drawing.svg import Caption, Element, Svg, drawing, element, group, measure

_SEAT_PX = 12.0  # what the lid rests on
_PIVOT = 0.5  # of the hub
_COIL_INK = 0.7


def draw_barrel_section(section: BarrelSection, *, prefix: str, sheet: Sheet = Sheet.WIDE) -> Svg:
    """Draw the barrel in axial section.

    A spring that is too high is drawn over the lid at its true height, and marked.

    Args:
        section: the barrel and its spring; sizes above 0, the arbor smaller than the bore.
        prefix: prefix of the ids.
        sheet: how wide it is drawn.
    """
    levels = levels_of(section)
    place = place_section(section, levels, sheet)
    heights = heights_of(section, levels)
    dimensions, foot = columns(heights, place)
    parts = group(
        *_cut(section, levels, place, prefix),
        *_spring(section, place, prefix, levels),
        *_arbor(section, levels, place),
        *dimensions,
        data_px_per_mm=measure(place.scale.px_per_mm),
        data_view="section",
    )
    alarm = broken(too_high(section), FIGURE_PX, sheet.width - 24, sheet.sentence_lines)
    alarms = labels(alarm, 12, foot + 6, size_px=FIGURE_PX, css="alarm-text")
    end = foot + 6 + below(len(alarms), FIGURE_PX)
    head = label("Half section", 12, 26, size_px=FIGURE_PX, bold=True)
    scale = label(f"scale {place.scale.text}, sizes in mm", 12, end)
    caption = Caption(prefix=prefix, title="Barrel in section", desc=described(section, heights))
    defs = tuple(hatch.pattern(prefix) for hatch in (BARREL_CUT, LID_CUT, OVERLAP))
    return drawing(caption, sheet.width, end + 12, (head, parts, *alarms, scale), defs)


def _cut(
    section: BarrelSection, levels: Levels, place: SectionPlace, prefix: str
) -> Iterator[Element]:
    yield from _barrel(section, levels, place, prefix)
    yield from _lid(section, levels, place, prefix)
    y, half = place.floor_y, section.bore.value_mm / 2
    name = {"data_name": "half bore", "data_mm": measure(half)}
    yield line(EDGE, place.axis_x, y, place.wall_x, y, **name)
    name = {"data_name": "seat", "data_mm": measure(levels.seat_mm)}
    yield line(EDGE, place.wall_x, y, place.wall_x, place.y(levels.seat_mm), **name)


def _barrel(
    section: BarrelSection, levels: Levels, place: SectionPlace, prefix: str
) -> Iterator[Element]:
    """Floor and wall: cut faces, with the step that the lid rests on."""
    wall, outer, floor = place.wall_x, place.outer_x, place.floor_y
    pivot = place.x(section.arbor.value_mm / 2 * _PIVOT)
    seat, rim = place.y(levels.seat_mm), place.y(levels.lid_top_mm)
    inside = ((pivot, floor), (wall, floor), (wall, seat), (wall + _SEAT_PX, seat))
    rim_edge = ((wall + _SEAT_PX, rim), (outer, rim))
    outside = ((outer, floor + FLOOR_PX), (pivot, floor + FLOOR_PX))
    face = polyline((*inside, *rim_edge, *outside)) + "Z"
    yield filled("hatch", face, fill=BARREL_CUT.fill(prefix))
    yield path(EDGE, polyline((*inside[1:], *rim_edge)))
    yield path(UNMEASURED, polyline((rim_edge[-1], *outside, inside[0])))


def _lid(
    section: BarrelSection, levels: Levels, place: SectionPlace, prefix: str
) -> Iterator[Element]:
    """The lid on its seat, hollow over the bore when it has a recess."""
    pivot = place.x(section.arbor.value_mm / 2 * _PIVOT)
    edge = place.wall_x + _SEAT_PX
    top, seat, under = (
        place.y(mm) for mm in (levels.lid_top_mm, levels.seat_mm, levels.underside_mm)
    )
    hollow = ((place.wall_x, seat), (place.wall_x, under), (pivot, under))
    face = polyline(((pivot, top), (edge, top), (edge, seat), *hollow)) + "Z"
    yield filled("hatch", face, fill=LID_CUT.fill(prefix))
    yield path(EDGE if section.lid else ASSUMED, face, data_name="lid face")


def _spring(
    section: BarrelSection, place: SectionPlace, prefix: str, levels: Levels
) -> Iterator[Element]:
    """The run-down coils as they are cut, the light band of the height, and any overlap."""
    radii = coil_radii_mm(section)
    if section.spring is None or not radii:
        return
    height, thickness = section.spring.height, section.spring.thickness_mm
    yield from _available_band(section, place)
    width = thickness * _COIL_INK * place.scale.px_per_mm
    for radius in radii:
        yield element(
            "rect",
            x=place.x(radius) - width / 2,
            y=place.y(height.value_mm),
            width=width,
            height=height.value_mm * place.scale.px_per_mm,
            class_="spring-fill",
            fill="currentColor",
            stroke="none",
            data_name="coil",
            data_mm=measure(height.value_mm),
        )
    if levels.overlap_mm > 0:
        left = place.x(radii[-1] - thickness / 2)
        tall = levels.overlap_mm * place.scale.px_per_mm
        area = box(left, place.y(height.value_mm), place.wall_x - left, tall)
        yield filled("paper", area, fill="white", fill_opacity=0.5)
        yield filled("hatch", area, fill=OVERLAP.fill(prefix))
        yield path(ALARM, area, data_name="overlap", data_mm=measure(levels.overlap_mm))


def _available_band(section: BarrelSection, place: SectionPlace) -> Iterator[Element]:
    low, high = section.available.low_mm, section.available.high_mm
    left = place.x(section.arbor.value_mm / 2)
    tall = (high - low) * place.scale.px_per_mm
    if tall > 1:
        area = box(left, place.y(high), place.wall_x - left, tall)
        yield filled("band", area, fill_opacity=BAND_OPACITY, data_name="available interval")
    y = place.y(section.available.value_mm)
    yield line(THIN, left, y, place.wall_x, y)


def _arbor(section: BarrelSection, levels: Levels, place: SectionPlace) -> Iterator[Element]:
    """The hub uncut, as shafts are; its pivots are not measured."""
    hub = section.arbor.value_mm / 2
    top, under = place.y(levels.lid_top_mm) - 10, place.y(levels.underside_mm)
    bottom = place.floor_y + FLOOR_PX + 10
    pivot = place.x(hub * _PIVOT)
    pen = ASSUMED if section.arbor.assumed else EDGE
    yield line(pen, place.x(hub), place.floor_y, place.x(hub), under)
    name = {"data_name": "half arbor", "data_mm": measure(hub)}
    yield line(pen, place.axis_x, under, place.x(hub), under, **name)
    yield path(UNMEASURED, polyline(((place.axis_x, top), (pivot, top), (pivot, under))))
    yield path(
        UNMEASURED, polyline(((pivot, place.floor_y), (pivot, bottom), (place.axis_x, bottom)))
    )
    yield line(CENTRE, place.axis_x, top - 8, place.axis_x, bottom + 8)
    inside = place.axis_x + 12 + text_width("arbor", NOTE_PX) < place.x(hub)
    anchor: Anchor = "start" if inside else "end"
    x = place.axis_x + 6 if inside else place.axis_x - 10
    if inside or x > text_width("arbor", NOTE_PX):
        yield label("arbor", x, (place.floor_y + under) / 2 + 7, anchor=anchor)
