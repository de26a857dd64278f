"""Reads a drawing back: its elements, the points of its paths, the corners of all it holds."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from gaugelink.drawing.lettering import BOLD, text_width
from gaugelink.drawing.svg import Svg

Node = ET.Element
Point = tuple[float, float]

_COMMAND = re.compile(r"([MLCahvZ])([^MLCahvZ]*)")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def root_of(svg: Svg) -> Node:
    """Parse a drawing; namespaces are taken off the tags."""
    root = ET.fromstring(svg.markup)
    for node in root.iter():
        node.tag = node.tag.partition("}")[2]
    return root


def named(root: Node, name: str, tag: str = "*") -> list[Node]:
    return [n for n in root.iter() if n.get("data-name") == name and tag in ("*", n.tag)]


def scale_of(view: Node) -> float:
    return float(view.attrib["data-px-per-mm"])


def views(root: Node) -> dict[str, Node]:
    return {n.attrib["data-view"]: n for n in root.iter("g") if "data-view" in n.attrib}


def points(d: str) -> list[Point]:
    """Corners and control points of a path; of a half circle its ends and its top."""
    found: list[Point] = []
    x = y = 0.0
    for command, rest in _COMMAND.findall(d):
        values = [float(text) for text in _NUMBER.findall(rest)]
        if command in "MLC":
            found += zip(values[::2], values[1::2], strict=True)
            x, y = found[-1]
        elif command in "hv":
            x, y = (x + values[0], y) if command == "h" else (x, y + values[0])
            found.append((x, y))
        elif command == "a":
            radius, dx = values[0], values[5]
            found += [(x + dx / 2, y - radius), (x + dx / 2, y + radius), (x + dx, y)]
            x += dx
    return found


def line_length(line: Node) -> float:
    x1, y1, x2, y2 = (float(line.attrib[k]) for k in ("x1", "y1", "x2", "y2"))
    return float(((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5)


def texts(root: Node) -> list[str]:
    return [node.text or "" for node in root.iter("text")]


@dataclass(frozen=True)
class Box:
    left: float
    top: float
    right: float
    bottom: float

    def is_clear_of(self, other: Box) -> bool:
        beside = self.right <= other.left or other.right <= self.left
        return beside or self.bottom <= other.top or other.bottom <= self.top


def covered_texts(root: Node) -> list[tuple[str, str]]:
    """The pairs of texts that run into each other."""
    lettered = [(node.text, box) for node, box in boxes(root) if node.tag == "text" and node.text]
    pairs = combinations(lettered, 2)
    return [(str(one), str(other)) for (one, a), (other, b) in pairs if not a.is_clear_of(b)]


def boxes(node: Node) -> Iterator[tuple[Node, Box]]:
    """What each drawn element covers, patterns left out; lettering as wide as it may become."""
    for child in node:
        if child.tag != "defs":
            yield from boxes(child)
    corners = list(_corners(node))
    if corners:
        xs, ys = zip(*corners, strict=True)
        yield node, Box(min(xs), min(ys), max(xs), max(ys))


def _corners(node: Node) -> Iterator[Point]:
    def at(*keys: str) -> list[float]:
        return [float(node.attrib[key]) for key in keys]

    if node.tag == "line":
        x1, y1, x2, y2 = at("x1", "y1", "x2", "y2")
        yield from ((x1, y1), (x2, y2))
    elif node.tag == "circle":
        x, y, r = at("cx", "cy", "r")
        yield from ((x - r, y - r), (x + r, y + r))
    elif node.tag == "rect":
        x, y, width, height = at("x", "y", "width", "height")
        yield from ((x, y), (x + width, y + height))
    elif node.tag == "path":
        yield from points(node.attrib["d"])
    elif node.tag == "text":
        x, y, size_px = at("x", "y", "font-size")
        wide = text_width(node.text or "", size_px)
        wide *= BOLD if node.get("font-weight") == "bold" else 1
        left = (
            x - {"start": 0.0, "middle": 0.5, "end": 1.0}[node.get("text-anchor", "start")] * wide
        )
        yield from ((left, y - 0.8 * size_px), (left + wide, y + 0.22 * size_px))
