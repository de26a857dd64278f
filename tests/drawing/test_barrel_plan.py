from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from drawing_samples import SHEETS, plan, plans, size
from examples import examples
from hypothesis import given, settings
from read_back import line_length, named, points, root_of, scale_of, texts, views

from gaugelink.drawing.barrel_plan import BarrelPlan, draw_barrel_plan, misfit, views_of
from gaugelink.drawing.lettering import Sheet
from gaugelink.sizing.rules import coils_run_down, coils_wound, spiral_turns

WATCH = plan()
LADIES = plan(bore=6.0, arbor=2.0, thickness=0.07, length=180.0)
POCKET = plan(bore=20.0, arbor=6.67, thickness=0.23, length=607.0)
BARRELS = pytest.mark.parametrize("barrel", [WATCH, LADIES, POCKET], ids=["11", "6", "20"])


def curve_length(d: str) -> float:
    """Length of a path of cubic curves, each replaced by 64 chords."""
    places = points(d)
    length, start = 0.0, places[0]
    for i in range(1, len(places), 3):
        a, b, end = places[i : i + 3]
        before = start
        for k in range(1, 65):
            t = k / 64
            w = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3)
            x, y = (
                sum(f * p[axis] for f, p in zip(w, (start, a, b, end), strict=True))
                for axis in (0, 1)
            )
            length += math.hypot(x - before[0], y - before[1])
            before = (x, y)
        start = end
    return length


@BARRELS
@pytest.mark.parametrize("sheet", Sheet)
def test_bore_and_arbor_can_be_measured_in_the_drawing(barrel: BarrelPlan, sheet: Sheet) -> None:
    root = root_of(draw_barrel_plan(barrel, prefix="p", sheet=sheet))
    for view in views(root).values():
        scale = scale_of(view)
        for name, stated in (("bore", barrel.bore), ("arbor", barrel.arbor)):
            (drawn,) = named(view, name, "circle")
            assert float(drawn.attrib["data-mm"]) == pytest.approx(stated.value_mm)
            assert 2 * float(drawn.attrib["r"]) / scale == pytest.approx(
                stated.value_mm, abs=1 / scale
            )


@settings(deadline=None, max_examples=examples(60))
@given(plans(), SHEETS)
def test_every_dimension_line_is_as_long_as_it_says(barrel: BarrelPlan, sheet: Sheet) -> None:
    for view in views(root_of(draw_barrel_plan(barrel, prefix="p", sheet=sheet))).values():
        lines = [node for node in view.iter("line") if "data-mm" in node.attrib]
        assert len(lines) == 2
        for line in lines:
            drawn_mm = line_length(line) / scale_of(view)
            assert drawn_mm == pytest.approx(float(line.attrib["data-mm"]), abs=1 / scale_of(view))


@BARRELS
def test_the_drawn_strip_is_as_long_as_the_spring(barrel: BarrelPlan) -> None:
    assert barrel.spring is not None
    for view in views(root_of(draw_barrel_plan(barrel, prefix="p"))).values():
        (coils,) = named(view, "coils", "path")
        drawn_mm = curve_length(coils.attrib["d"]) / scale_of(view)
        assert drawn_mm == pytest.approx(barrel.spring.length_mm, rel=2e-4)


@BARRELS
def test_the_coils_go_round_as_often_as_true_spirals_do(barrel: BarrelPlan) -> None:
    """The angle swept by the drawn path, wound less run down, is the development in turns."""
    assert barrel.spring is not None
    swept = {}
    for name, view in views(root_of(draw_barrel_plan(barrel, prefix="p"))).items():
        (coils,) = named(view, "coils", "path")
        (bore,) = named(view, "bore", "circle")
        cx, cy = float(bore.attrib["cx"]), float(bore.attrib["cy"])
        angles = [math.atan2(y - cy, x - cx) for x, y in points(coils.attrib["d"])[::3]]
        steps = [(b - a) % (2 * math.pi) for a, b in pairwise(angles)]
        swept[name] = sum(steps) / (2 * math.pi)
    turns = spiral_turns(
        barrel.bore.value_mm,
        barrel.arbor.value_mm,
        barrel.spring.thickness_mm,
        barrel.spring.length_mm,
    )
    assert swept["Wound"] - swept["Run down"] == pytest.approx(turns, abs=0.01)


@settings(deadline=None, max_examples=examples(60))
@given(plans())
def test_the_strip_lies_between_arbor_and_wall(barrel: BarrelPlan) -> None:
    for view in views(root_of(draw_barrel_plan(barrel, prefix="p"))).values():
        (bore,) = named(view, "bore", "circle")
        (arbor,) = named(view, "arbor", "circle")
        cx, cy = float(bore.attrib["cx"]), float(bore.attrib["cy"])
        for coils in named(view, "coils", "path"):
            half = barrel.spring.thickness_mm / 2 * scale_of(view) if barrel.spring else 0.0
            radii = [math.hypot(x - cx, y - cy) for x, y in points(coils.attrib["d"])[::3]]
            assert min(radii) - half >= float(arbor.attrib["r"]) - 0.1
            assert max(radii) + half <= float(bore.attrib["r"]) + 0.1


def test_the_text_counts_closed_rings() -> None:
    shown = texts(root_of(draw_barrel_plan(WATCH, prefix="p")))
    assert f"{coils_run_down(11.0, 0.12, 352.0):.1f} coils on the wall" in shown
    assert f"{coils_wound(11 / 3, 0.12, 352.0):.1f} coils on the arbor" in shown


@settings(deadline=None, max_examples=examples(60))
@given(plans(), SHEETS)
def test_the_scale_bar_is_as_long_as_it_says(barrel: BarrelPlan, sheet: Sheet) -> None:
    root = root_of(draw_barrel_plan(barrel, prefix="p", sheet=sheet))
    (bar,) = named(root, "scale bar", "line")
    for view in views(root).values():
        drawn_mm = line_length(bar) / scale_of(view)
        assert drawn_mm == pytest.approx(float(bar.attrib["data-mm"]), abs=0.05 / scale_of(view))
    assert f"{bar.attrib['data-mm']} mm; sizes in mm" in texts(root)
    assert not any(":1" in text for text in texts(root))  # no ratio, which a width makes untrue


def test_an_assumed_arbor_is_dashed_and_says_so_and_a_measured_one_is_not() -> None:
    assumed = replace(WATCH, arbor=size(3.667, 0.3, assumed=True))
    for barrel, expected in ((assumed, True), (WATCH, False)):
        root = root_of(draw_barrel_plan(barrel, prefix="p"))
        circles = named(root, "arbor", "circle")
        assert [("stroke-dasharray" in c.attrib) for c in circles] == [expected] * 2
        assert any("assumed" in text for text in texts(root)) is expected
        assert ("assumed" in (root[1].text or "")) is expected


def test_an_interval_is_drawn_to_scale_where_it_can_be_seen() -> None:
    wide = replace(WATCH, arbor=size(3.667, 0.3))
    for view in views(root_of(draw_barrel_plan(wide, prefix="p"))).values():
        (band,) = named(view, "arbor interval", "path")
        (arbor,) = named(view, "arbor", "circle")
        reach = {abs(x - float(arbor.attrib["cx"])) for x, _ in points(band.attrib["d"])} - {0.0}
        drawn = sorted(2 * px / scale_of(view) for px in reach if px > 1)
        assert drawn[0] == pytest.approx(3.367, abs=0.02)
        assert drawn[-1] == pytest.approx(3.967, abs=0.02)
    fine = root_of(draw_barrel_plan(replace(WATCH, arbor=size(3.667, 0.01)), prefix="p"))
    assert not named(fine, "arbor interval")


def test_a_strip_that_does_not_fit_is_said_and_not_drawn() -> None:
    barrel = plan(length=900.0, name="found spring")
    root = root_of(draw_barrel_plan(barrel, prefix="p"))
    assert not named(root, "coils")
    assert "does not fit" in " ".join(texts(root))
    assert "does not fit" in (root[1].text or "")
    assert misfit(WATCH) == ""


def test_without_a_spring_the_barrel_is_drawn_alone() -> None:
    bare = replace(WATCH, spring=None)
    (view,) = views_of(bare)
    assert view.strip is None
    root = root_of(draw_barrel_plan(bare, prefix="p"))
    assert len(named(root, "bore", "circle")) == 1
