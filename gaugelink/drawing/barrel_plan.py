"""The barrel seen from above, to scale: the spring run down against the wall, and wound.

The strip is drawn as it lies, an Archimedean spiral of its true length. Its middle line
begins half a thickness off the arbor, or ends half a thickness off the wall, and climbs one
thickness a turn; so between radii a and b it is pi (b^2 - a^2) / e long.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from gaugelink.drawing import dimension, svg
from gaugelink.drawing.lettering import FIGURE_PX, LINE, NOTE_PX, Sheet, broken, label, labels
from gaugelink.sizing.rules import (
    coils_run_down,
    coils_wound,
    run_down_inner_diameter,
    wound_outer_diameter,
)

_MOST_ROOM_PX = 400.0  # for a view
_WALL_PX = 14.0  # the wall of a barrel is not measured
_MARGIN_PX = 12.0
_HEAD_PX = 92.0  # from the top of a view to its upper dimension line
_OFF_PX = 24.0  # from the wall to a dimension line
_STRIP_INK = 0.6  # of the thickness: light between the coils keeps them apart
_TEXT_LINES = 2
_LINK_TURNS = 0.75
_UP = -math.pi / 2
_ARCS_PER_TURN = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSpring:
    """The strip in the barrel: thickness and acting length in mm, and what it is called."""

    thickness_mm: float
    length_mm: float
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BarrelPlan:
    """Bore, arbor (measured or assumed) and the spring; None shows the barrel alone."""

    bore: dimension.Dimension
    arbor: dimension.Dimension
    spring: PlanSpring | None = None


def draw_barrel_plan(plan: BarrelPlan, *, prefix: str, sheet: Sheet = Sheet.WIDE) -> svg.Svg:
    """Draw the barrel in plan.

    Coils are true spirals of the stated length and thickness; their number in the text is that
    of closed rings. Sizes are above 0, the arbor smaller than the bore. On a narrow sheet the
    views stand one under the other.
    """
    views = views_of(plan)
    columns = len(views) if sheet is Sheet.WIDE else 1
    room = min(sheet.width / columns, _MOST_ROOM_PX)
    px_per_mm = (room - 2 * (_WALL_PX + _MARGIN_PX)) / plan.bore.value_mm
    places = _places(len(views), columns, room, plan.bore.value_mm / 2, px_per_mm)
    drawn = [_view(view, place, plan, prefix) for view, place in zip(views, places, strict=True)]
    foot = places[-1].lower + 30 + _TEXT_LINES * FIGURE_PX * LINE
    alarms = broken(misfit(plan), NOTE_PX, room - 2 * _MARGIN_PX, 4)
    drawn += labels(alarms, _MARGIN_PX, foot, css="alarm-text")
    end = foot + len(alarms) * NOTE_PX * LINE
    drawn.append(dimension.scale_bar(px_per_mm, _MARGIN_PX, end - NOTE_PX / 3))
    caption = svg.Caption(prefix=prefix, title="Barrel in plan", desc=_described(plan, views))
    size = room * columns, end + _MARGIN_PX
    return svg.drawing(caption, *size, tuple(drawn), (dimension.BARREL_CUT.pattern(prefix),))


@dataclass(frozen=True, slots=True, kw_only=True)
class Diameter:
    """A diameter that a view shows, with its text."""

    name: str
    value_mm: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One view, with the diameters written above and below it."""

    heading: str
    note: str
    above: Diameter
    below: Diameter
    strip: Strip | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A strip in place, which begins at the top; the band's limits are diameters of closed rings.

    ``link`` is the end that hangs over to arbor or wall, from an angle in radians on; its
    length is not counted.
    """

    spiral: Spiral
    link: Spiral
    link_start: float
    band_inner_mm: float
    band_outer_mm: float


def views_of(plan: BarrelPlan) -> tuple[View, ...]:
    """Return the spring run down and wound, or the bare barrel where none fits."""
    if plan.spring is None or misfit(plan):
        above = _diameter("arbor", plan.arbor.value_mm, plan.arbor.text)
        below = _diameter("bore", plan.bore.value_mm, plan.bore.text)
        return (View(heading="Barrel", note="", above=above, below=below),)
    return _run_down(plan, plan.spring), _wound(plan, plan.spring)


def misfit(plan: BarrelPlan) -> str:
    """Say that the strip does not fit in its ring; empty when it does, or there is none."""
    spring = plan.spring
    if spring is None or strip_fits(
        plan.bore.value_mm, plan.arbor.value_mm, spring.thickness_mm, spring.length_mm
    ):
        return ""
    return (
        f"The {spring.name}, {spring.thickness_mm:g} x {spring.length_mm:g} mm, does not fit "
        "between arbor and wall."
    )


def _run_down(plan: BarrelPlan, spring: PlanSpring) -> View:
    size = plan.bore.value_mm, spring.thickness_mm, spring.length_mm
    spiral, clear = run_down_spiral(*size), run_down_inner_diameter(*size)
    strip = Strip(
        spiral=spiral,
        link=_link(plan.arbor.value_mm / 2, spiral.inner_mm),
        link_start=_UP - 2 * math.pi * _LINK_TURNS,
        band_inner_mm=clear,
        band_outer_mm=plan.bore.value_mm,
    )
    return View(
        heading="Run down",
        note=f"{coils_run_down(*size):.1f} coils on the wall",
        above=_diameter("inside coils", clear, f"{clear:.2f}"),
        below=_diameter("bore", plan.bore.value_mm, plan.bore.text),
        strip=strip,
    )


def _wound(plan: BarrelPlan, spring: PlanSpring) -> View:
    size = plan.arbor.value_mm, spring.thickness_mm, spring.length_mm
    spiral, over = wound_spiral(*size), wound_outer_diameter(*size)
    strip = Strip(
        spiral=spiral,
        link=_link(spiral.outer_mm, plan.bore.value_mm / 2),
        link_start=_UP + 2 * math.pi * spiral.turns,
        band_inner_mm=plan.arbor.value_mm,
        band_outer_mm=over,
    )
    return View(
        heading="Wound",
        note=f"{coils_wound(*size):.1f} coils on the arbor",
        above=_diameter("over coils", over, f"{over:.2f}"),
        below=_diameter("arbor", plan.arbor.value_mm, plan.arbor.text),
        strip=strip,
    )


def _link(inner_mm: float, outer_mm: float) -> Spiral:
    pitch = (outer_mm - inner_mm) / _LINK_TURNS
    return Spiral(inner_mm=inner_mm, outer_mm=outer_mm, pitch_mm=pitch)


def _diameter(name: str, value_mm: float, text: str) -> Diameter:
    return Diameter(name=name, value_mm=value_mm, text=f"{name} ⌀ {text}")


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Centre:
    """Where the axis of a view is on the sheet, in px, and its scale."""

    x: float
    y: float
    px_per_mm: float


def spiral_path(spiral: Spiral, centre: Centre, start: float) -> str:
    """Write the path of a spiral, clockwise from an angle in radians at its inner end.

    An arc of an eighth of a turn is a cubic curve that has the spiral's ends and slopes.
    """
    count = max(1, math.ceil(abs(spiral.turns) * _ARCS_PER_TURN))
    step = spiral.turns * 2 * math.pi / count
    reach = 4 / 3 * math.tan(step / 4)  # exact ends and middle on a circle
    places = [_on_spiral(spiral, centre, start, i * step) for i in range(count + 1)]
    parts = [f"M{places[0][0]:.2f} {places[0][1]:.2f}"]
    for (x1, y1, dx1, dy1), (x2, y2, dx2, dy2) in pairwise(places):
        parts.append(
            f"C{x1 + reach * dx1:.2f} {y1 + reach * dy1:.2f}"
            f" {x2 - reach * dx2:.2f} {y2 - reach * dy2:.2f} {x2:.2f} {y2:.2f}"
        )
    return "".join(parts)


def _on_spiral(
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Where a view is: its axis, the bore's radius, its top and its width in px."""

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


def _view(view: View, place: _Place, plan: BarrelPlan, prefix: str) -> svg.Element:
    return svg.group(
        *_heading(view, place),
        *_wall(place, prefix),
        *(_coils(view.strip, place.centre) if view.strip else ()),
        *_extended(view.above, place.centre, place.upper - 5),
        *_extended(view.below, place.centre, place.lower + 5),
        *_circle("bore", plan.bore, place.centre),
        *_circle("arbor", plan.arbor, place.centre),
        *_centre_lines(place),
        *_dimensioned(view.above, place, place.upper, -10, 1),
        *_dimensioned(view.below, place, place.lower, 26, _TEXT_LINES),
        data_view=view.heading,
        data_px_per_mm=svg.measure(place.centre.px_per_mm),
    )


def _heading(view: View, place: _Place) -> Iterator[svg.Element]:
    x, top = place.centre.x, place.top
    yield label(view.heading, x, top + 25, size_px=FIGURE_PX, anchor="middle", bold=True)
    if view.note:
        yield label(view.note, x, top + 49, anchor="middle")


def _wall(place: _Place, prefix: str) -> Iterator[svg.Element]:
    x, y, outer = place.centre.x, place.centre.y, place.radius + _WALL_PX
    wall = svg.disc(x, y, outer) + svg.disc(x, y, place.radius)
    yield svg.filled("hatch", wall, fill=dimension.BARREL_CUT.fill(prefix))
    yield svg.circle(svg.UNMEASURED, x, y, outer)


def _circle(name: str, size: dimension.Dimension, centre: Centre) -> Iterator[svg.Element]:
    """The edge, and under it a light ring between the limits where the scale shows one."""
    pen = svg.ASSUMED if size.assumed else svg.EDGE
    low, high = (limit / 2 * centre.px_per_mm for limit in (size.low_mm, size.high_mm))
    if high - low > pen.width + 1 and low > 0:
        yield svg.filled(
            "band",
            svg.disc(centre.x, centre.y, high) + svg.disc(centre.x, centre.y, low),
            fill_opacity=svg.BAND_OPACITY,
            data_name=f"{name} interval",
            data_low_mm=svg.measure(size.low_mm),
            data_high_mm=svg.measure(size.high_mm),
        )
    radius = size.value_mm / 2 * centre.px_per_mm
    data = {"data_name": name, "data_mm": svg.measure(size.value_mm)}
    yield svg.circle(pen, centre.x, centre.y, radius, **data)


def _coils(strip: Strip, centre: Centre) -> Iterator[svg.Element]:
    inner, outer = (
        svg.disc(centre.x, centre.y, mm / 2 * centre.px_per_mm)
        for mm in (strip.band_inner_mm, strip.band_outer_mm)
    )
    yield svg.filled("spring-fill", outer + inner, fill_opacity=0.14)
    yield svg.path(
        svg.UNMEASURED, spiral_path(strip.link, centre, strip.link_start), data_name="link"
    )
    ink = svg.Pen(css="spring", width=strip.spiral.pitch_mm * centre.px_per_mm * _STRIP_INK)
    yield svg.path(
        ink,
        spiral_path(strip.spiral, centre, _UP),
        data_name="coils",
        data_turns=svg.measure(strip.spiral.turns),
        data_inner_mm=svg.measure(strip.spiral.inner_mm),
        data_outer_mm=svg.measure(strip.spiral.outer_mm),
    )


def _centre_lines(place: _Place) -> Iterator[svg.Element]:
    x, y, reach = place.centre.x, place.centre.y, place.radius + _WALL_PX + 8
    yield svg.line(svg.CENTRE, x - reach, y, x + reach, y)
    yield svg.line(svg.CENTRE, x, y - reach, x, y + reach)


def _extended(size: Diameter, centre: Centre, y: float) -> Iterator[svg.Element]:
    for end in _ends(size, centre, centre.y):
        yield dimension.extension_line(end, dimension.Point(x=end.x, y=y))


def _dimensioned(
    size: Diameter, place: _Place, y: float, off: float, lines: int
) -> Iterator[svg.Element]:
    yield dimension.dimension_line(size.name, size.value_mm, *_ends(size, place.centre, y))
    text = broken(size.text, FIGURE_PX, place.room - _MARGIN_PX, lines)
    yield from labels(text, place.centre.x, y + off, size_px=FIGURE_PX, anchor="middle")


def _ends(size: Diameter, centre: Centre, y: float) -> tuple[dimension.Point, dimension.Point]:
    half = size.value_mm / 2 * centre.px_per_mm
    return dimension.Point(x=centre.x - half, y=y), dimension.Point(x=centre.x + half, y=y)


def _described(plan: BarrelPlan, views: tuple[View, ...]) -> str:
    parts = [f"Bore {plan.bore.text} mm, arbor {plan.arbor.text} mm.", misfit(plan)]
    for view in views:
        if plan.spring is not None and view.strip is not None:
            parts.append(f"{view.heading}: {plan.spring.name}, {view.note}, {view.above.text} mm.")
    return " ".join(filter(None, parts))
