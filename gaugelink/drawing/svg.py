"""A small builder of SVG: elements with escaped text, pens, a whole drawing, and its look.

A drawing carries its text alternative, keeps its proportions at any width, and takes ink
and paper from the page around it. ``standalone`` makes a file of its own. Presentation
attributes draw everything in black; the style puts the page's colours over them. A page
sets ``--ink``, ``--paper``, ``--spring``, ``--alarm`` and ``--band``, in light and in dark,
and embeds ``DRAWING_STYLE`` once for all drawings.

Pens are those of a workshop drawing, after ISO 128: wide and continuous is a visible edge,
thin and continuous a dimension, long dash and dot an axis, short dashes what was assumed or
is compared; thin dashes end what was not measured.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from html import escape

_PREFIX = re.compile(r"[A-Za-z][A-Za-z0-9_-]*")
# What XML 1.0, 2.2 leaves out: control characters, surrogates, two non-characters.
_NOT_XML = re.compile(r"[^\t\n\r\x20-\uD7FF\uE000-\uFFFD\U00010000-\U0010FFFF]")
_DECLARATION = '<?xml version="1.0" encoding="UTF-8"?>\n'


@dataclass(frozen=True, slots=True, kw_only=True)
class Element:
    """One element: attributes and texts as they were given, escaped when written."""

    tag: str
    attributes: tuple[tuple[str, str], ...]
    children: tuple[Element | str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Svg:
    """A finished drawing; width and height in px."""

    width: float
    height: float
    markup: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Caption:
    """What replaces a drawing where it cannot be seen, and the prefix of its ids.

    Args:
        prefix: letters, digits, ``-`` and ``_``, beginning with a letter; another one for
            each drawing of a page.
        title: what it is, in a few words.
        desc: what it shows, in sentences.
    """

    prefix: str
    title: str
    desc: str


def element(tag: str, *children: Element | str, **attributes: str | float | None) -> Element:
    """Make an element.

    In the name of an attribute ``_`` means ``-`` and is dropped at the end (``class_``);
    numbers are rounded to 0.01; None leaves the attribute out.
    """
    named = ((k.rstrip("_").replace("_", "-"), v) for k, v in attributes.items() if v is not None)
    return Element(
        tag=tag,
        attributes=tuple((k, v if isinstance(v, str) else number(v)) for k, v in named),
        children=children,
    )


def group(*children: Element, **attributes: str | float | None) -> Element:
    """Put elements into a group, which carries what they share."""
    return element("g", *children, **attributes)


def number(value: float) -> str:
    """Write a coordinate with two decimals at most.

    Raises:
        ValueError: the value is not finite.
    """
    if not math.isfinite(value):
        raise ValueError(f"{value} is not a coordinate")
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def measure(value: float) -> str:
    """Write a measured value for a ``data-`` attribute: to be read back, not to be shown."""
    return f"{value:.7g}"


def render(item: Element | str) -> str:
    """Write an element, or a text, as markup."""
    if isinstance(item, str):
        return escape(_clean(item))
    attributes = "".join(f' {k}="{escape(_clean(v))}"' for k, v in item.attributes)
    if not item.children:
        return f"<{item.tag}{attributes}/>"
    inside = "".join(render(child) for child in item.children)
    return f"<{item.tag}{attributes}>{inside}</{item.tag}>"


def drawing(
    caption: Caption,
    width: float,
    height: float,
    children: tuple[Element, ...],
    defs: tuple[Element, ...] = (),
) -> Svg:
    """Make a drawing of elements, which inherit ink for their lines and no filling.

    Width and height are in px, ``children`` go from back to front, and each id in ``defs``
    begins with the prefix.

    Raises:
        ValueError: the prefix cannot begin an id.
    """
    if not _PREFIX.fullmatch(caption.prefix):
        raise ValueError(f"{caption.prefix!r} cannot begin an id")
    ids = {part: f"{caption.prefix}-{part}" for part in ("title", "desc")}
    root = element(
        "svg",
        element("title", caption.title, id=ids["title"]),
        element("desc", caption.desc, id=ids["desc"]),
        *([element("defs", *defs)] if defs else []),
        *children,
        xmlns="http://www.w3.org/2000/svg",
        class_="gl",
        role="img",
        aria_labelledby=ids["title"],
        aria_describedby=ids["desc"],
        viewBox=f"0 0 {number(width)} {number(height)}",
        width=width,
        height=height,
        font_family=FONT,
        fill="none",
        stroke="currentColor",
    )
    return Svg(width=width, height=height, markup=render(root))


def standalone(svg: Svg) -> str:
    """Return a whole .svg file, with a style of its own for light, dark and print."""
    style = render(element("style", FILE_STYLE))
    return f"{_DECLARATION}{svg.markup.removesuffix('</svg>')}{style}</svg>\n"


def _clean(text: str) -> str:
    return _NOT_XML.sub("\ufffd", text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """A kind of line: class for the page's style, width in px, dashes and gaps in px."""

    css: str
    width: float
    dashes: str | None = None
    opacity: float | None = None

    @property
    def attributes(self) -> dict[str, str | float | None]:
        """The attributes of an element drawn with this pen; ink and no filling are inherited."""
        return {
            "class_": self.css,
            "stroke_width": self.width,
            "stroke_dasharray": self.dashes,
            "stroke_opacity": self.opacity,
        }


EDGE = Pen(css="edge", width=2.6)
ASSUMED = Pen(css="edge", width=2.6, dashes="9 5")
UNMEASURED = Pen(css="thin", width=1.2, dashes="5 4")
THIN = Pen(css="thin", width=1.3)
CENTRE = Pen(css="thin", width=1.2, dashes="16 4 3 4")
GRID = Pen(css="thin", width=1.0, opacity=0.25)
CURVE = Pen(css="spring", width=3.2)
COMPARED = Pen(css="edge", width=2.6, dashes="10 6")
COMPARED_LIMIT = Pen(css="edge", width=1.3, dashes="3 4")
ALARM = Pen(css="alarm", width=2.6)
BAND_OPACITY = 0.22


def line(pen: Pen, x1: float, y1: float, x2: float, y2: float, **data: str) -> Element:
    """Draw a straight line; ``data`` are further attributes."""
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, **pen.attributes, **data)


def circle(pen: Pen, cx: float, cy: float, r: float, **data: str) -> Element:
    """Draw a circle; ``data`` are further attributes."""
    return element("circle", cx=cx, cy=cy, r=r, **pen.attributes, **data)


def path(pen: Pen, d: str, **data: str) -> Element:
    """Draw a path; ``data`` are further attributes."""
    return element("path", d=d, **pen.attributes, **data)


def filled(css: str, d: str, *, fill: str = "currentColor", **data: str | float) -> Element:
    """Draw an area without an edge; ``fill`` may name a pattern."""
    return element("path", d=d, class_=css, fill=fill, fill_rule="evenodd", stroke="none", **data)


def box(x: float, y: float, width: float, height: float) -> str:
    """Return the path of a rectangle."""
    return f"M{x:.2f} {y:.2f}h{width:.2f}v{height:.2f}h{-width:.2f}Z"


def disc(cx: float, cy: float, r: float) -> str:
    """Return the path of a circle."""
    half = f"a{r:.2f} {r:.2f} 0 1 0"
    return f"M{cx - r:.2f} {cy:.2f}{half} {2 * r:.2f} 0{half} {-2 * r:.2f} 0Z"


def polyline(points: tuple[tuple[float, float], ...]) -> str:
    """Return the path through points, of which there is at least one."""
    return "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points)


FONT = "system-ui, 'Segoe UI', 'DejaVu Sans', 'Liberation Sans', sans-serif"
DRAWING_STYLE = """\
.gl { max-width: 100%; height: auto; color: var(--ink, CanvasText); }
.gl .spring { stroke: var(--spring, currentColor); }
.gl .spring-fill { fill: var(--spring, currentColor); }
.gl .alarm { stroke: var(--alarm, currentColor); }
.gl .alarm-text, .gl .alarm-fill { fill: var(--alarm, currentColor); }
.gl .band { fill: var(--band, currentColor); }
.gl .paper { fill: var(--paper, Canvas); }
.gl .halo, .gl .rim { stroke: var(--paper, Canvas); }
"""
_LIGHT = "--ink: #14171c; --paper: #ffffff; --spring: #0b4f94; --alarm: #a3160c; --band: #4a5568;"
_DARK = "--ink: #eef1f5; --paper: #14171c; --spring: #8cc4ff; --alarm: #ff9d8f; --band: #b8c2d0;"
FILE_STYLE = f"""\
:root {{ color-scheme: light dark; background: var(--paper); {_LIGHT} }}
@media (prefers-color-scheme: dark) {{ :root {{ {_DARK} }} }}
@media print {{ :root {{ {_LIGHT} }} }}
{DRAWING_STYLE}"""
