from __future__ import annotations

import math
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.drawing.svg import Caption, drawing, element, number, render, standalone


@pytest.mark.parametrize(
    ("value", "text"),
    [(1.0, "1"), (0.126, "0.13"), (-0.001, "0"), (100.0, "100"), (-2.5, "-2.5"), (1e6, "1000000")],
)
def test_a_coordinate_has_two_decimals_at_most(value: float, text: str) -> None:
    assert number(value) == text


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_finite_is_no_coordinate(value: float) -> None:
    with pytest.raises(ValueError, match="not a coordinate"):
        element("line", x1=value)


@given(st.text(), st.text())
def test_any_text_and_any_attribute_come_back_as_they_were(text: str, value: str) -> None:
    """Other than what XML cannot hold, and blanks, which a parser may change."""
    read = ET.fromstring(render(element("text", text, data_x=value)))
    assert _without_oddities(read.text or "") == _without_oddities(text)
    assert _without_oddities(read.attrib["data-x"]) == _without_oddities(value)


def _without_oddities(text: str) -> str:
    return "".join(char for char in text if char.isprintable() and char not in " \ufffd")


@pytest.mark.parametrize("char", ["\x00", "\x1b", "\ufffe", "\ud800"])
def test_what_xml_cannot_hold_is_replaced(char: str) -> None:
    assert ET.fromstring(render(element("text", f"a{char}b"))).text == "a\ufffdb"


def test_an_attribute_of_none_is_left_out() -> None:
    assert render(element("g", class_="x", fill=None, data_a_b=1)) == '<g class="x" data-a-b="1"/>'


@pytest.mark.parametrize("prefix", ["", "1a", "a b", 'a"', "é", "a>"])
def test_a_prefix_that_cannot_begin_an_id_is_refused(prefix: str) -> None:
    with pytest.raises(ValueError, match="cannot begin an id"):
        drawing(Caption(prefix=prefix, title="", desc=""), 1, 1, ())


def test_a_file_of_its_own_has_its_style_for_light_dark_and_print() -> None:
    svg = drawing(Caption(prefix="a", title="</svg>", desc="d"), 10, 20, (element("g"),))
    text = standalone(svg)
    assert text.startswith('<?xml version="1.0" encoding="UTF-8"?>\n<svg ')
    root = ET.fromstring(text.encode())
    style = root[-1]
    assert style.tag.endswith("style") and style.text
    for part in ("prefers-color-scheme: dark", "@media print", "--ink", "--paper"):
        assert part in style.text
