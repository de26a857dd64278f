"""The places to measure: one group each, inside the sheet, the gauge where it belongs."""

from __future__ import annotations

import pytest
from read_back import root_of

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


def test_the_strip_is_looked_at_only_where_it_is_measured() -> None:
    views = {
        n.get("data-place"): n.get("data-view") for n in root_of(draw_measuring_places()).iter("g")
    }
    assert views["found_height"] == views["found_thickness"] == f"0 0 {WIDTH:g} {HEIGHT:g}"
    assert views["bore"] == f"30 0 460 {HEIGHT:g}"
