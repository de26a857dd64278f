"""The places to measure: one group each, inside the sheet, the gauge where it belongs."""

from __future__ import annotations

import pytest
from read_back import Node, root_of

from gaugelink.capture.acts import ZERO
from gaugelink.capture.plan import MEASURANDS
from gaugelink.drawing.measuring_place import HEIGHT, PLACES, WIDTH, draw_measuring_places
from gaugelink.model import DepthReference


def test_every_measurand_has_a_place() -> None:
    places = [node.get("data-place") for node in root_of(draw_measuring_places()).iter("g")]
    assert {*filter(None, places)} == {*MEASURANDS, ZERO, "block"} == {*PLACES}


def test_parts_name_the_places_they_belong_to() -> None:
    parts = {
        n.get("data-part"): n.get("data-for") for n in root_of(draw_measuring_places()).iter("g")
    }
    assert parts["barrel"] == "bore depth"
    assert parts["spring"] == "found_thickness found_height"


def test_it_has_no_lettering_and_no_style_that_a_strict_page_would_refuse() -> None:
    markup = draw_measuring_places().markup
    assert "<text" not in markup
    assert "style=" not in markup and "<style" not in markup and "script" not in markup


@pytest.mark.parametrize("reference", DepthReference)
def test_it_stays_on_its_sheet(reference: DepthReference) -> None:
    numbers = [
        (float(x), float(y))
        for node in root_of(draw_measuring_places(reference)).iter("path")
        if "h" not in node.attrib["d"]
        for x, y in (
            pair.split() for pair in node.attrib["d"].strip("MZ").replace("L", ",").split(",")
        )
        if node.get("class") in ("edge", "gauge")
    ]
    assert numbers
    assert all(0 <= x <= WIDTH and 0 <= y <= HEIGHT for x, y in numbers)


def test_the_beam_lies_on_what_the_depth_is_measured_from() -> None:
    rim, seat = (draw_measuring_places(each).markup for each in DepthReference)
    assert rim != seat


def box_of(node: Node) -> tuple[float, float, float, float]:
    """Return what the gauges of a place take up: left, top, right, bottom."""
    points = [
        tuple(map(float, pair.split()))
        for path in node.iter("path")
        if path.get("class") == "gauge"
        for pair in path.attrib["d"].strip("MZ").split("L")
    ]
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


@pytest.mark.parametrize("reference", DepthReference)
def test_the_gauge_is_in_what_is_looked_at(reference: DepthReference) -> None:
    for node in root_of(draw_measuring_places(reference)).iter("g"):
        if "data-place" in node.attrib:
            left, top, width, height = map(float, node.attrib["data-view"].split())
            box = box_of(node)
            assert left <= box[0], node.attrib["data-place"]
            assert top <= box[1] and box[3] <= top + height, node.attrib["data-place"]
            if node.attrib["data-place"] != "recess":  # its beam goes on across the whole lid
                assert box[2] <= left + width, node.attrib["data-place"]
