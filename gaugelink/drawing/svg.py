"""A small builder of SVG: elements with escaped text, numbers of two decimals, a whole drawing.

A drawing carries its text alternative, keeps its proportions at any width, and takes ink
and paper from the page around it. ``standalone`` makes a file of its own.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from html import escape

from gaugelink.drawing.style import FILE_STYLE, FONT

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
    """A finished drawing; width and height in px of 1/96 in, at which its scale holds."""

    width: float
    height: float
    markup: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Caption:
    """What stands in for a drawing where it cannot be seen, and the prefix of its ids.

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

    Args:
        tag: name of the element.
        children: elements, or text.
        attributes: ``_`` stands for ``-`` and is dropped at the end (``class_``); numbers
            are rounded to 0.01; None leaves the attribute out.
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
        raise ValueError(f"{value} is no coordinate")
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

    Args:
        caption: its text alternative and the prefix of its ids.
        width: width of the sheet in px.
        height: height of the sheet in px.
        children: what is drawn, from back to front.
        defs: patterns; each id begins with the prefix.

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
