"""Where on barrel, lid, arbor or spring a size is measured, and how the gauge lies there.

Nominal proportions, no lettering: it is looked at from two metres. All places are in one drawing,
each in a group of its own (``data-place``, ``data-view`` for what to look at), of which a screen
shows one; the parts (``data-part``) say which places they belong to, so that the others can be
drawn faint. The barrel is cut along its axis like everywhere, but to both walls: a bore is
measured from one to the other.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from gaugelink.drawing import svg
from gaugelink.drawing.dimension import BARREL_CUT, LID_CUT, Point, arrowhead
from gaugelink.model import DepthReference

WIDTH, HEIGHT = 640.0, 372.0
# All in px of the sheet. Outer face, wall and seat of the lid on the left; the axis is the middle.
_AXIS = 260.0
_OUTER, _WALL, _SEAT = 60.0, 86.0, 72.0
_RIM, _SEAT_Y, _FLOOR, _BASE = 130.0, 152.0, 300.0, 324.0
_HUB, _PIVOT, _HUB_TOP = 46.0, 22.0, 166.0
_HOOK_Y, _HOOK = 252.0, 15.0
_LID_TOP, _LID, _HOLLOW = 58.0, 80.0, 68.0
_STRIP_LEFT, _STRIP_RIGHT, _STRIP_TOP, _STRIP_BOTTOM = 566.0, 576.0, 180.0, 300.0
_JAW = 26.0
_MEASURED = svg.Pen(css="spring", width=7.0)
_GAUGE = svg.Pen(css="edge", width=3.4)
_BOTH = (-1.0, 1.0)
# Which parts a place belongs to, the others are drawn faint; and what of the sheet is looked at:
# left, top, width and height in px.
PLACES = {
    "bore": ("barrel",),
    "depth": ("barrel",),
    "lid": ("lid",),
    "recess": ("lid",),
    "arbor": ("arbor",),
    "found_thickness": ("spring",),
    "found_height": ("spring",),
    "zero": (),
    "block": (),
}
_BARREL_VIEW, _LID_VIEW, _STRIP_VIEW = (30, 0, 460, 372), (20, 0, 300, 190), (430, 105, 210, 260)
VIEWS = {
    "bore": _BARREL_VIEW,
    "depth": _BARREL_VIEW,
    "lid": _LID_VIEW,
    "recess": _LID_VIEW,
    "arbor": (120, 80, 280, 290),
    "found_thickness": _STRIP_VIEW,
    "found_height": _STRIP_VIEW,
    "zero": (100, 110, 320, 210),
    "block": (80, 110, 360, 210),
}


def draw_measuring_places(
    reference: DepthReference = DepthReference.RIM, *, prefix: str = "place"
) -> svg.Svg:
    """Draw every place where something is measured, all of them visible.

    Args:
        reference: what the depth is measured up to.
        prefix: of the ids in it.
    """
    parts = {"barrel": _barrel, "lid": _lid, "arbor": _arbor, "spring": _spring}
    drawn = [
        svg.group(*draw(prefix), data_part=name, data_for=_places_of(name))
        for name, draw in parts.items()
    ]
    places = {
        "bore": _bore(),
        "depth": _depth(_RIM if reference is DepthReference.RIM else _SEAT_Y),
        "lid": _lid_edge(),
        "recess": _recess(),
        "arbor": _across(_AXIS - _HUB, _AXIS + _HUB, 214.0),
        "found_thickness": _across(_STRIP_LEFT, _STRIP_RIGHT, 240.0),
        "found_height": _strip_height(),
        "zero": _across(_AXIS, _AXIS, 214.0),
        "block": _block(),
    }
    shown = [
        svg.group(*places[name], data_place=name, data_view=" ".join(map(str, VIEWS[name])))
        for name in PLACES
    ]
    caption = svg.Caption(
        prefix=prefix,
        title="Where to measure",
        desc="Barrel cut along its axis, lid above it, arbor in it and the found spring beside it.",
    )
    defs = tuple(hatch.pattern(prefix) for hatch in (BARREL_CUT, LID_CUT))
    return svg.drawing(caption, WIDTH, HEIGHT, (*drawn, *shown), defs)


def _places_of(part: str) -> str:
    return " ".join(name for name, parts in PLACES.items() if part in parts)


def _side(x: float, sign: float) -> float:
    """Return where x, given for the left half, lies: there with -1, mirrored with 1."""
    return _AXIS + sign * (_AXIS - x)


def _cut(points: tuple[tuple[float, float], ...], fill: str, pen: svg.Pen) -> Iterator[svg.Element]:
    face = svg.polyline(points) + "Z"
    yield svg.filled("hatch", face, fill=fill)
    yield svg.path(pen, face)


def _barrel(prefix: str) -> Iterator[svg.Element]:
    """Wall with the step for the lid, and floor; the hook on one wall."""
    for sign in _BOTH:
        half = (
            (_AXIS - _PIVOT, _FLOOR),
            (_WALL, _FLOOR),
            (_WALL, _SEAT_Y),
            (_SEAT, _SEAT_Y),
            (_SEAT, _RIM),
            (_OUTER, _RIM),
            (_OUTER, _BASE),
            (_AXIS - _PIVOT, _BASE),
        )
        mirrored = tuple((_side(x, sign), y) for x, y in half)
        yield from _cut(mirrored, BARREL_CUT.fill(prefix), svg.EDGE)
    x = _side(_WALL, 1.0)
    hook = svg.polyline(((x, _HOOK_Y), (x - _HOOK, _HOOK_Y), (x, _HOOK_Y + 2 * _HOOK))) + "Z"
    yield svg.filled("ink", hook, data_name="hook")


def _lid(prefix: str) -> Iterator[svg.Element]:
    """The lid lifted off, hollow below, with the hole for the pivot."""
    for sign in _BOTH:
        half = (
            (_AXIS - _PIVOT, _LID_TOP),
            (_SEAT, _LID_TOP),
            (_SEAT, _LID),
            (_WALL + 26, _LID),
            (_WALL + 26, _HOLLOW),
            (_AXIS - _PIVOT, _HOLLOW),
        )
        mirrored = tuple((_side(x, sign), y) for x, y in half)
        yield from _cut(mirrored, LID_CUT.fill(prefix), svg.EDGE)


def _arbor(prefix: str) -> Iterator[svg.Element]:
    """The arbor uncut, as shafts are: hub with its hook, pivots, axis."""
    left, right = _AXIS - _HUB, _AXIS + _HUB
    hub = svg.box(left, _HUB_TOP, right - left, _FLOOR - _HUB_TOP)
    yield svg.filled("paper", hub, fill="white")
    yield svg.path(svg.EDGE, hub)
    for top, tall in ((_RIM - 12, _HUB_TOP - _RIM + 12), (_FLOOR, _BASE - _FLOOR + 20)):
        yield svg.path(svg.EDGE, svg.box(_AXIS - _PIVOT, top, 2 * _PIVOT, tall))
    hook = svg.polyline(((right, _HOOK_Y), (right + _HOOK, _HOOK_Y), (right, _HOOK_Y + 24))) + "Z"
    yield svg.filled("ink", hook, data_name="hook of the arbor")
    yield svg.line(svg.CENTRE, _AXIS, _RIM - 34, _AXIS, _BASE + 36)


def _spring(prefix: str) -> Iterator[svg.Element]:
    """A coil of the spring that was found, on its edge."""
    strip = svg.box(_STRIP_LEFT, _STRIP_TOP, _STRIP_RIGHT - _STRIP_LEFT, _STRIP_BOTTOM - _STRIP_TOP)
    yield svg.filled("spring-fill", strip)


def _jaw(*points: tuple[float, float]) -> Iterator[svg.Element]:
    """A jaw, a rod or an anvil: paper inside a wide edge, so that it lies over the part."""
    face = svg.polyline(points) + "Z"
    yield svg.filled("gauge", face, fill="white")
    yield svg.path(_GAUGE, face)


def _arrow(start: Point, end: Point) -> Iterator[svg.Element]:
    """The measured length, with an arrowhead at each end."""
    yield svg.line(_MEASURED, start.x, start.y, end.x, end.y)
    yield _head(end, start)
    yield _head(start, end)


def _push(tail: Point, tip: Point) -> Iterator[svg.Element]:
    """An arrow that says from where a face is pressed on."""
    yield svg.line(_MEASURED, tail.x, tail.y, tip.x, tip.y)
    yield _head(tail, tip)


def _head(tail: Point, tip: Point) -> svg.Element:
    return svg.group(
        arrowhead(Point(x=0.0, y=0.0), math.atan2(tip.y - tail.y, tip.x - tail.x)),
        transform=f"translate({svg.number(tip.x)} {svg.number(tip.y)}) scale(2.4)",
        class_="measured",
    )


def _bore() -> Iterator[svg.Element]:
    """Two blades of the inside jaws against the walls, above the hook."""
    foot = _HOOK_Y - 22
    for sign in _BOTH:
        blade = ((_WALL, foot), (_WALL, 104.0), (_WALL + 14, 20.0), (_WALL + 44, 20.0))
        points = (*blade, (_WALL + 44, 104.0), (_WALL + 16, foot))
        yield from _jaw(*((_side(x, sign), y) for x, y in points))
    yield from _arrow(Point(x=_WALL, y=202.0), Point(x=_side(_WALL, 1.0), y=202.0))


def _depth(reference_y: float) -> Iterator[svg.Element]:
    """The beam flat across rim or seat, the rod on the floor."""
    reach = _OUTER - 8 if reference_y == _RIM else _SEAT
    right = _side(reach, 1.0)
    rod = _side(_WALL + 66, 1.0)
    yield from _jaw(
        (rod, reference_y - 60), (rod + 18, reference_y - 60), (rod + 18, _FLOOR), (rod, _FLOOR)
    )
    top = reference_y - 34
    yield from _jaw((reach, top), (right, top), (right, reference_y), (reach, reference_y))
    x = rod + 44
    yield from _arrow(Point(x=x, y=reference_y), Point(x=x, y=_FLOOR))


def _lid_edge() -> Iterator[svg.Element]:
    """Anvils on both faces of the lid, near its edge."""
    left, right = _SEAT + 4, _SEAT + 4 + _JAW
    yield from _jaw(
        (left, _LID_TOP - 48), (right, _LID_TOP - 48), (right, _LID_TOP), (left, _LID_TOP)
    )
    yield from _jaw((left, _LID), (right, _LID), (right, _LID + 48), (left, _LID + 48))
    x = _OUTER - 18
    yield from _push(Point(x=x, y=_LID_TOP - 44), Point(x=x, y=_LID_TOP))
    yield from _push(Point(x=x, y=_LID + 44), Point(x=x, y=_LID))


def _recess() -> Iterator[svg.Element]:
    """The beam flat below the lid, the rod up in its hollow."""
    x, right = _WALL + 74, _side(_SEAT, 1.0)
    yield from _jaw((x, _HOLLOW), (x + 18, _HOLLOW), (x + 18, _LID + 70), (x, _LID + 70))
    yield from _jaw((_SEAT, _LID), (right, _LID), (right, _LID + 28), (_SEAT, _LID + 28))
    yield svg.line(_MEASURED, x - 12, _HOLLOW, x + 30, _HOLLOW)


def _across(left: float, right: float, y: float) -> Iterator[svg.Element]:
    """Jaws or anvils from both sides, up against what is between them, or against each other."""
    for x, sign in ((left, -1.0), (right, 1.0)):
        far = x + sign * 2 * _JAW
        yield from _jaw((x, y - 40), (far, y - 40), (far, y + 40), (x, y + 40))
        tip, tail = x + sign * 8, x + sign * (2 * _JAW + 34)
        yield from _push(Point(x=tail, y=y), Point(x=tip, y=y))


def _strip_height() -> Iterator[svg.Element]:
    """Anvils above and below the coil."""
    left, right = _STRIP_LEFT - 22, _STRIP_RIGHT + 22
    for y, sign in ((_STRIP_TOP, -1.0), (_STRIP_BOTTOM, 1.0)):
        far = y + sign * 48
        yield from _jaw((left, y), (right, y), (right, far), (left, far))
    x = _STRIP_LEFT - 52
    yield from _arrow(Point(x=x, y=_STRIP_TOP), Point(x=x, y=_STRIP_BOTTOM))


def _block() -> Iterator[svg.Element]:
    """A block of known length between the faces."""
    left, right = _AXIS - 70, _AXIS + 70
    block = svg.box(left, 170.0, right - left, 88.0)
    yield svg.filled("paper", block, fill="white")
    yield svg.path(svg.EDGE, block)
    yield from _across(left, right, 214.0)
