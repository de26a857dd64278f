"""The lines of a workshop drawing, after ISO 128: what each weight and dash means.

Wide and continuous is a visible edge, thin and continuous a dimension, long dash and dot an
axis, short dashes what was assumed or is compared; thin dashes end what was not measured.
"""

from __future__ import annotations

from dataclasses import dataclass

from gaugelink.drawing.svg import Element, element


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
