"""The barrel seen from above, to scale: the spring run down against the wall, and wound."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.drawing.dimension import Dimension, Point, dimension_line, extension_line
from gaugelink.drawing.hatching import BARREL_CUT
from gaugelink.drawing.lettering import FIGURE_PX, LINE, NOTE_PX, broken, label, labels
from gaugelink.drawing.pens import (
    ASSUMED,
    BAND_OPACITY,
    CENTRE,
    EDGE,
    UNMEASURED,
    Pen,
    circle,
    disc,
    filled,
    line,
    path,
)
from gaugelink.drawing.plan_views import BarrelPlan, Diameter, Strip, View, misfit, views_of
from gaugelink.drawing.scale import scale_to_fit
from gaugelink.drawing.sheet import Sheet
from gaugelink.drawing.spiral import Centre, spiral_path
from gaugelink.drawing.svg import Caption, Element, Svg, drawing, group, measure

_MOST_ROOM_PX = 400.0  # for a view
_WALL_PX = 14.0  # the wall of a barrel is not measured
_MARGIN_PX = 12.0
_HEAD_PX = 92.0  # from the top of a view to its upper dimension line
_OFF_PX = 24.0  # from the wall to a dimension line
_STRIP_INK = 0.6  # of the thickness: light between the coils keeps them apart
_TEXT_LINES = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Where a view stands: its axis, the bore's radius, its top and its width in px."""

    centre: Centre
    radius: float
    top: float
    room: float

    @property
    def upper(self) -> float:
        return self.top + _HEAD_PX

    @property
    def lower(self) -> float:
        return self.centre.y + self.radius + _WALL_PX + _OFF_PX


def draw_barrel_plan(plan: BarrelPlan, *, prefix: str, sheet: Sheet = Sheet.WIDE) -> Svg:
    """Draw the barrel in plan.

    Coils are true spirals of the stated length and thickness; their number in the text is
    that of closed rings.

    Args:
        plan: what is in the barrel; sizes above 0, the arbor smaller than the bore.
        prefix: prefix of the ids.
        sheet: how wide it is drawn; on a narrow one the views stand one under the other.
    """
    views = views_of(plan)
    columns = len(views) if sheet is Sheet.WIDE else 1
    room = min(sheet.width / columns, _MOST_ROOM_PX)
    scale = scale_to_fit(plan.bore.value_mm, room - 2 * (_WALL_PX + _MARGIN_PX))
    places = _places(len(views), columns, room, plan.bore.value_mm / 2, scale.px_per_mm)
    drawn = [_view(view, place, plan, prefix) for view, place in zip(views, places, strict=True)]
    foot = places[-1].lower + 30 + _TEXT_LINES * FIGURE_PX * LINE
    alarms = broken(misfit(plan), NOTE_PX, room - 2 * _MARGIN_PX, 4)
    drawn += labels(alarms, _MARGIN_PX, foot, css="alarm-text")
    end = foot + len(alarms) * NOTE_PX * LINE
    drawn.append(label(f"scale {scale.text}, sizes in mm", _MARGIN_PX, end))
    caption = Caption(prefix=prefix, title="Barrel in plan", desc=_described(plan, views))
    size = room * columns, end + _MARGIN_PX
    return drawing(caption, *size, tuple(drawn), (BARREL_CUT.pattern(prefix),))


def _places(
    count: int, columns: int, room: float, radius_mm: float, px_per_mm: float
) -> list[_Place]:
    radius = radius_mm * px_per_mm
    above = _HEAD_PX + _OFF_PX + _WALL_PX + radius
    tall = above + radius + _WALL_PX + _OFF_PX + (_TEXT_LINES + 1) * FIGURE_PX * LINE
    places = []
    for i in range(count):
        x, top = (i % columns + 0.5) * room, (i // columns) * tall
        centre = Centre(x=x, y=top + above, px_per_mm=px_per_mm)
        places.append(_Place(centre=centre, radius=radius, top=top, room=room))
    return places


def _view(view: View, place: _Place, plan: BarrelPlan, prefix: str) -> Element:
    return group(
        *_heading(view, place),
        *_wall(place, prefix),
        *(_coils(view.strip, place.centre) if view.strip else ()),
        *_extensions(view.above, place.centre, place.upper - 5),
        *_extensions(view.below, place.centre, place.lower + 5),
        *_circle("bore", plan.bore, place.centre),
        *_circle("arbor", plan.arbor, place.centre),
        *_centre_lines(place),
        *_dimensioned(view.above, place, place.upper, -10, 1),
        *_dimensioned(view.below, place, place.lower, 26, _TEXT_LINES),
        data_view=view.heading,
        data_px_per_mm=measure(place.centre.px_per_mm),
    )


def _heading(view: View, place: _Place) -> Iterator[Element]:
    x, top = place.centre.x, place.top
    yield label(view.heading, x, top + 25, size_px=FIGURE_PX, anchor="middle", bold=True)
    if view.note:
        yield label(view.note, x, top + 49, anchor="middle")


def _wall(place: _Place, prefix: str) -> Iterator[Element]:
    x, y, outer = place.centre.x, place.centre.y, place.radius + _WALL_PX
    wall = disc(x, y, outer) + disc(x, y, place.radius)
    yield filled("hatch", wall, fill=BARREL_CUT.fill(prefix))
    yield circle(UNMEASURED, x, y, outer)


def _circle(name: str, size: Dimension, centre: Centre) -> Iterator[Element]:
    """The edge, and under it a light ring between the limits where the scale shows one."""
    pen = ASSUMED if size.assumed else EDGE
    low, high = (limit / 2 * centre.px_per_mm for limit in (size.low_mm, size.high_mm))
    if high - low > pen.width + 1 and low > 0:
        yield filled(
            "band",
            disc(centre.x, centre.y, high) + disc(centre.x, centre.y, low),
            fill_opacity=BAND_OPACITY,
            data_name=f"{name} interval",
            data_low_mm=measure(size.low_mm),
            data_high_mm=measure(size.high_mm),
        )
    radius = size.value_mm / 2 * centre.px_per_mm
    data = {"data_name": name, "data_mm": measure(size.value_mm)}
    yield circle(pen, centre.x, centre.y, radius, **data)


def _coils(strip: Strip, centre: Centre) -> Iterator[Element]:
    inner, outer = (
        disc(centre.x, centre.y, mm / 2 * centre.px_per_mm)
        for mm in (strip.band_inner_mm, strip.band_outer_mm)
    )
    yield filled("spring-fill", outer + inner, fill_opacity=0.14)
    yield path(UNMEASURED, spiral_path(strip.link, centre, strip.link_start), data_name="link")
    ink = Pen(css="spring", width=strip.spiral.pitch_mm * centre.px_per_mm * _STRIP_INK)
    yield path(
        ink,
        spiral_path(strip.spiral, centre, strip.start),
        data_name="coils",
        data_turns=measure(strip.spiral.turns),
        data_inner_mm=measure(strip.spiral.inner_mm),
        data_outer_mm=measure(strip.spiral.outer_mm),
    )


def _centre_lines(place: _Place) -> Iterator[Element]:
    x, y, reach = place.centre.x, place.centre.y, place.radius + _WALL_PX + 8
    yield line(CENTRE, x - reach, y, x + reach, y)
    yield line(CENTRE, x, y - reach, x, y + reach)


def _extensions(size: Diameter, centre: Centre, y: float) -> Iterator[Element]:
    for end in _ends(size, centre, centre.y):
        yield extension_line(end, Point(x=end.x, y=y))


def _dimensioned(
    size: Diameter, place: _Place, y: float, off: float, lines: int
) -> Iterator[Element]:
    yield dimension_line(size.name, size.value_mm, *_ends(size, place.centre, y))
    text = broken(size.text, FIGURE_PX, place.room - _MARGIN_PX, lines)
    yield from labels(text, place.centre.x, y + off, size_px=FIGURE_PX, anchor="middle")


def _ends(size: Diameter, centre: Centre, y: float) -> tuple[Point, Point]:
    half = size.value_mm / 2 * centre.px_per_mm
    return Point(x=centre.x - half, y=y), Point(x=centre.x + half, y=y)


def _described(plan: BarrelPlan, views: tuple[View, ...]) -> str:
    parts = [f"Bore {plan.bore.text} mm, arbor {plan.arbor.text} mm.", misfit(plan)]
    for view in views:
        if plan.spring is not None and view.strip is not None:
            parts.append(f"{view.heading}: {plan.spring.name}, {view.note}, {view.above.text} mm.")
    return " ".join(filter(None, parts))
