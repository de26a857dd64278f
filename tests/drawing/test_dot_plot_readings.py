from __future__ import annotations

import random

import pytest
from drawing_samples import LONG, SHEETS, dot_plots, dots
from examples import examples
from hypothesis import given, settings
from read_back import Node, named, points, root_of, texts

from gaugelink.drawing.dot_plot import DotPlot, draw_readings
from gaugelink.drawing.lettering import Sheet

SEED = random.Random(8)
FEW = dots([11.02, 11.02, 11.01])
MANY = dots([round(SEED.gauss(0.125, 0.002), 3) for _ in range(200)])


def at(root: Node, x: float) -> float:
    """The value in mm that stands at a place across the sheet."""
    (group,) = [node for node in root.iter("g") if "data-px-per-mm" in node.attrib]
    scale, origin, start = (
        float(group.attrib[f"data-{key}"]) for key in ("px-per-mm", "origin-mm", "origin-x")
    )
    return origin + (x - start) / scale


def px_in_mm(root: Node) -> float:
    return at(root, 1.0) - at(root, 0.0)


@settings(deadline=None, max_examples=examples(60))
@given(dot_plots(), SHEETS)
def test_every_reading_stands_at_its_value(plot: DotPlot, sheet: Sheet) -> None:
    root = root_of(draw_readings(plot, prefix="d", sheet=sheet))
    kept = sorted(r.value_mm for r in plot.readings if not r.rejected)
    shown = sorted(named(root, "reading", "circle"), key=lambda n: float(n.attrib["cx"]))
    assert len(shown) == len(kept)
    for dot, value in zip(shown, kept, strict=True):
        assert at(root, float(dot.attrib["cx"])) == pytest.approx(value, abs=px_in_mm(root))


@settings(deadline=None, max_examples=examples(60))
@given(dot_plots(), SHEETS)
def test_mean_and_interval_stand_at_their_values(plot: DotPlot, sheet: Sheet) -> None:
    root = root_of(draw_readings(plot, prefix="d", sheet=sheet))
    (mean,), (interval,) = named(root, "mean", "line"), named(root, "interval", "path")
    xs = [x for x, _ in points(interval.attrib["d"])]
    for x, value in (
        (float(mean.attrib["x1"]), plot.mean.value_mm),
        (min(xs), plot.mean.low_mm),
        (max(xs), plot.mean.high_mm),
    ):
        assert at(root, x) == pytest.approx(value, abs=px_in_mm(root))


@pytest.mark.parametrize("sheet", Sheet)
@pytest.mark.parametrize("plot", [FEW, MANY], ids=["3", "200"])
def test_no_dot_hides_another(plot: DotPlot, sheet: Sheet) -> None:
    root = root_of(draw_readings(plot, prefix="d", sheet=sheet))
    places = [(n.attrib["cx"], n.attrib["cy"]) for n in named(root, "reading", "circle")]
    assert len(set(places)) == len(plot.readings)


@pytest.mark.parametrize("sheet", Sheet)
def test_three_readings_have_larger_dots_than_two_hundred_and_both_fit(sheet: Sheet) -> None:
    radius = {}
    for plot in (FEW, MANY):
        svg = draw_readings(plot, prefix="d", sheet=sheet)
        (radius[len(plot.readings)],) = {
            float(n.attrib["r"]) for n in named(root_of(svg), "reading", "circle")
        }
        assert svg.height < 420
    assert radius[3] > radius[200] >= 3


def test_the_rims_of_dots_do_not_hide_dots_that_stand_close() -> None:
    """Two kept readings far off squeeze the others, so that they cover one another."""
    close = dots([*(11.52 + (i % 7 - 3) / 100 for i in range(196)), 11.91, 12.4])
    for plot, most in ((close, 0.1), (MANY, 0.3)):
        root = root_of(draw_readings(plot, prefix="d", sheet=Sheet.NARROW))
        (group,) = [n for n in root.iter("g") if "rim" in n.get("class", "")]
        heights = sorted({float(n.attrib["cy"]) for n in named(root, "reading", "circle")})
        pitch = heights[1] - heights[0]
        assert float(group.attrib["stroke-width"]) <= most * pitch


def test_a_rejected_reading_is_a_cross_at_its_place() -> None:
    root = root_of(draw_readings(dots([0.12, 0.122, 0.121], {0.124: "Grubbs' test"}), prefix="d"))
    (cross,) = named(root, "rejected", "path")
    xs = [x for x, _ in points(cross.attrib["d"])]
    assert at(root, (min(xs) + max(xs)) / 2) == pytest.approx(0.124, abs=px_in_mm(root))
    assert "0.124 mm, Grubbs' test" in (root[1].text or "")
    assert "4 readings, 1 rejected" in texts(root)


def test_a_reading_in_another_unit_does_not_squeeze_the_others() -> None:
    values = [0.120, 0.122, 0.121]
    alone = root_of(draw_readings(dots(values), prefix="d"))
    beside = root_of(draw_readings(dots(values, {25.4: LONG}), prefix="d"))
    assert px_in_mm(beside) == pytest.approx(px_in_mm(alone))
    assert len(named(beside, "beyond")) == 1 and not named(beside, "rejected")


def test_readings_all_alike_still_have_a_scale() -> None:
    plot = dots([0.3])
    root = root_of(draw_readings(plot, prefix="d"))
    ticks = [node.text for node in root.iter("text") if node.get("data-tick")]
    assert len(ticks) == len(set(ticks)) >= 3
