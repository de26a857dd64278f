from __future__ import annotations

from dataclasses import replace

import pytest
from drawing_samples import SHEETS, section, sections, size
from examples import examples
from hypothesis import given, settings
from read_back import Node, line_length, named, points, root_of, scale_of, texts, views

from gaugelink.drawing.barrel_section import (
    BarrelSection,
    coil_radii_mm,
    draw_barrel_section,
    levels_of,
    too_high,
)
from gaugelink.drawing.lettering import Sheet
from gaugelink.model import DepthReference
from gaugelink.sizing.rules import coils_run_down, half_area_length


def drawn(barrel: BarrelSection, sheet: Sheet = Sheet.WIDE) -> tuple[Node, float]:
    root = root_of(draw_barrel_section(barrel, prefix="s", sheet=sheet))
    return root, scale_of(views(root)["section"])


@settings(deadline=None, max_examples=examples(80))
@given(sections(), SHEETS)
def test_every_stated_size_is_as_long_as_it_says(barrel: BarrelSection, sheet: Sheet) -> None:
    root, scale = drawn(barrel, sheet)
    lines = [node for node in root.iter("line") if "data-mm" in node.attrib]
    assert len(lines) >= 6
    assert len(named(root, "scale bar", "line")) == 1
    for line in lines:
        assert line_length(line) / scale == pytest.approx(
            float(line.attrib["data-mm"]), abs=1 / scale
        )


@settings(deadline=None, max_examples=examples(80))
@given(sections(), SHEETS)
def test_the_coils_are_as_high_as_the_spring_and_stand_on_the_floor(
    barrel: BarrelSection, sheet: Sheet
) -> None:
    root, scale = drawn(barrel, sheet)
    coils = named(root, "coil", "rect")
    assert bool(coils) is (barrel.spring is not None)
    (floor,) = named(root, "half bore", "line")
    for coil in coils:
        assert barrel.spring is not None
        tall, top = float(coil.attrib["height"]), float(coil.attrib["y"])
        assert tall / scale == pytest.approx(barrel.spring.height.value_mm, abs=1 / scale)
        assert top + tall == pytest.approx(float(floor.attrib["y1"]), abs=0.05)
        assert float(coil.attrib["x"]) + float(coil.attrib["width"]) < float(floor.attrib["x2"])


@pytest.mark.parametrize(
    ("barrel", "seat", "underside", "top"),
    [
        (section(depth=1.92, lid=0.31), 1.61, 1.61, 1.92),
        (section(depth=1.92, lid=0.31, recess=0.1), 1.61, 1.71, 1.92),
        (section(depth=1.6, lid=0.3, reference=DepthReference.SEAT), 1.6, 1.6, 1.9),
        (section(depth=1.6, lid=0.3, recess=0.1, reference=DepthReference.SEAT), 1.6, 1.7, 1.9),
    ],
)
def test_the_lid_lies_where_the_depth_was_measured_to(
    barrel: BarrelSection, seat: float, underside: float, top: float
) -> None:
    levels = levels_of(barrel)
    assert levels.seat_mm == pytest.approx(seat)
    assert levels.underside_mm == pytest.approx(underside)
    assert levels.lid_top_mm == pytest.approx(top)
    root, scale = drawn(barrel)
    (face,), (floor,) = named(root, "lid face"), named(root, "half bore", "line")
    heights = {
        round((float(floor.attrib["y1"]) - y) / scale, 2) for _, y in points(face.attrib["d"])
    }
    assert heights == {round(mm, 2) for mm in (seat, underside, top)}


@pytest.mark.parametrize(
    ("height", "words", "overlap"),
    [
        (1.45, "", 0.0),
        (1.51, "", 0.0),  # all of the available height
        (1.55, "takes 0.04 mm of the clearance", 0.0),
        (1.70, "0.09 mm too high", 0.09),
        (2.30, "0.69 mm too high", 0.69),
    ],
)
def test_a_spring_that_is_too_high_is_drawn_over_the_lid_and_marked(
    height: float, words: str, overlap: float
) -> None:
    barrel = section(height=height)
    root, scale = drawn(barrel)
    shown = " ".join(texts(root))
    assert bool(too_high(barrel)) is bool(words)
    assert words in shown and words in (root[1].text or "")
    areas = named(root, "overlap", "path")
    assert len(areas) == (overlap > 0)
    for area in areas:
        ys = [y for _, y in points(area.attrib["d"])]
        assert (max(ys) - min(ys)) / scale == pytest.approx(overlap, abs=1 / scale)
        assert any("overlap" in node.get("fill", "") for node in root.iter("path"))


def test_a_lid_that_was_not_measured_is_dashed_and_has_no_figure() -> None:
    root, _ = drawn(section(lid=None, depth=1.6, reference=DepthReference.SEAT))
    (face,) = named(root, "lid face")
    assert "stroke-dasharray" in face.attrib
    assert not named(root, "lid")
    assert "not measured" in (root[1].text or "")
    (measured,) = named(drawn(section())[0], "lid face")
    assert "stroke-dasharray" not in measured.attrib


@pytest.mark.parametrize("sheet", Sheet)
def test_all_figures_are_shown_with_their_uncertainty(sheet: Sheet) -> None:
    root, _ = drawn(section(recess=0.05), sheet)
    shown = " ".join(texts(root))
    for name, size_of in (
        ("available height", size(1.56)),
        ("recess", size(0.05, 0.01)),
        ("lid", size(0.31, 0.01)),
        ("depth to rim", size(1.92)),
        ("found spring", size(1.45)),
    ):
        assert f"{name}: {size_of.figure}" in shown


def test_as_many_coils_are_cut_as_lie_on_the_wall() -> None:
    barrel = section()
    e, length = 11 / 90, half_area_length(11.0, 11 / 3, 11 / 90)
    radii = coil_radii_mm(barrel)
    assert len(radii) == pytest.approx(coils_run_down(11.0, e, length), abs=1)
    assert radii[0] + e / 2 == pytest.approx(5.5)


def test_a_length_that_is_not_known_is_said() -> None:
    barrel = section()
    assert barrel.spring is not None and barrel.spring.length_mm is None
    known = replace(barrel, spring=replace(barrel.spring, length_mm=352.0))
    assert "not known" in (drawn(barrel)[0][1].text or "")
    assert "not known" not in (drawn(known)[0][1].text or "")
