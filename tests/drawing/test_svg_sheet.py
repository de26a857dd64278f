"""What holds of every drawing: well formed, inside its sheet, told in words, one look."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest
from drawing_samples import LONG, dots, drawings, one_of_each, row
from examples import examples
from hypothesis import example, given, settings
from read_back import boxes, covered_texts, root_of, texts

from gaugelink.drawing.dot_plot import draw_readings
from gaugelink.drawing.lettering import Sheet
from gaugelink.drawing.rules_plot import RowKind, RulePanel, draw_rules
from gaugelink.drawing.svg import DRAWING_STYLE, Svg, standalone

WIDE, NARROW = one_of_each("page"), one_of_each("narrow", Sheet.NARROW)
EACH = WIDE + NARROW
PHONE_PX = 336  # what the page leaves of a screen of 360 px
each_drawing = pytest.mark.parametrize("svg", EACH, ids=lambda svg: root_of(svg)[0].attrib["id"])


# Axes over 0.01 mm around 1000 mm: their figures are wider than the usual margin.
FINE = row("found", RowKind.FOUND, 1000.0, 0.005)
FINE_RULES = draw_rules((RulePanel(title="x", rows=(FINE,)),), prefix="p", sheet=Sheet.NARROW)
FINE_DOTS = draw_readings(dots([999.995, 1000.005]), prefix="p", sheet=Sheet.NARROW)


@settings(deadline=None, max_examples=examples(150))
@given(drawings())
@example(FINE_RULES)
@example(FINE_DOTS)
def test_nothing_lies_outside_the_sheet(svg: Svg) -> None:
    for node, box in boxes(root_of(svg)):
        inside = box.left >= 0 and box.top >= 0 and box.right <= svg.width
        assert inside and box.bottom <= svg.height, (node.tag, node.attrib, node.text, box)


@settings(deadline=None, max_examples=examples(60))
@given(drawings())
def test_a_drawing_with_any_text_is_well_formed_alone_and_in_a_page(svg: Svg) -> None:
    ET.fromstring(svg.markup)
    alone = ET.fromstring(standalone(svg).encode("utf-8"))
    assert alone.attrib["role"] == "img"


@each_drawing
def test_a_drawing_is_told_in_words(svg: Svg) -> None:
    root = root_of(svg)
    title, desc = root[0], root[1]
    assert (title.tag, desc.tag) == ("title", "desc")
    assert root.attrib["aria-labelledby"] == title.attrib["id"]
    assert root.attrib["aria-describedby"] == desc.attrib["id"]
    assert title.text and desc.text and re.search(r"\d", desc.text)


@each_drawing
def test_a_drawing_keeps_its_proportions_at_any_width(svg: Svg) -> None:
    root = root_of(svg)
    assert root.attrib["viewBox"] == f"0 0 {root.attrib['width']} {root.attrib['height']}"
    assert float(root.attrib["width"]) == svg.width <= 640
    assert "max-width: 100%" in DRAWING_STYLE


def test_ids_of_all_drawings_of_a_page_differ_and_every_reference_is_met() -> None:
    ids, used = [], []
    for svg in EACH + one_of_each("other"):
        ids += [node.attrib["id"] for node in root_of(svg).iter() if "id" in node.attrib]
        used += re.findall(r"url\(#([^)]+)\)", svg.markup)
    assert len(ids) == len(set(ids))
    assert used and set(used) <= set(ids)


@each_drawing
def test_colours_are_those_of_the_page(svg: Svg) -> None:
    """Ink is currentColor, paper is white until the page's style says otherwise."""
    for node in root_of(svg).iter():
        for key in ("stroke", "fill"):
            value = node.get(key, "none")
            assert value in ("none", "currentColor", "white") or value.startswith("url(#")
            if value == "white":
                assert {"halo", "paper", "rim"} & set(node.attrib["class"].split())
    assert "style" not in {node.tag for node in root_of(svg).iter()}


@pytest.mark.parametrize("svg", NARROW, ids=lambda svg: root_of(svg)[0].attrib["id"])
def test_type_is_large_enough_for_a_telephone(svg: Svg) -> None:
    sizes = [float(node.attrib["font-size"]) for node in root_of(svg).iter("text")]
    assert min(sizes) * PHONE_PX / svg.width >= 13


@pytest.mark.parametrize(("wide", "narrow"), list(zip(WIDE, NARROW, strict=True)))
def test_a_narrow_drawing_says_what_the_wide_one_says(wide: Svg, narrow: Svg) -> None:
    first, second = root_of(wide), root_of(narrow)
    assert narrow.width < wide.width
    assert [node.text for node in first[:2]] == [node.text for node in second[:2]]
    figures = [set(re.findall(r"\d+\.\d+ ± \d+\.\d+", " ".join(texts(r)))) for r in (first, second)]
    assert figures[0] == figures[1]


@settings(deadline=None, max_examples=examples(200))
@given(drawings())
def test_no_lettering_covers_other_lettering(svg: Svg) -> None:
    assert covered_texts(root_of(svg)) == []


def test_text_of_users_is_text() -> None:
    for svg in EACH:
        assert "<b>" not in svg.markup
        tags = {node.tag for node in root_of(svg).iter()}
        assert "b" not in tags
    assert any("<b>" in text for svg in EACH for text in texts(root_of(svg)))
    assert any(LONG in (root_of(svg)[1].text or "") for svg in EACH)
