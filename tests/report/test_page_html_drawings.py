"""Drawn sizes read back from the page equal the computed ones to a pixel of the drawing."""

from __future__ import annotations

import functools
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from itertools import pairwise

import pytest
from page_markup import drawings, parsed, sample
from page_samples import acts, barrel_of, record
from page_samples import content as content_of
from report_jobs import CALIPER, taken

from gaugelink.capture.acts import Undone
from gaugelink.mechanics.stopwork import DAY_H
from gaugelink.report.page_content import PageContent, PageSpring, page_spring
from gaugelink.report.page_html import page_html
from gaugelink.report.page_text import page_text
from gaugelink.report.page_torque import torque_plot
from gaugelink.report.plots import budgets, readings_figures, rule_panels
from gaugelink.sizing.rules import run_down_inner_diameter, wound_outer_diameter

LATER = [pytest.param(c, marks=pytest.mark.campaign) for c in ("no_arbor", "tiny", "nothing_fits")]
SIZED = ["whole", "by_rule", "large", *LATER]  # with a spring to go by
WITH_HEIGHT = [*SIZED, "documented"]
PIXEL = 1.0
FORMS = pytest.mark.parametrize("form", ["", "-narrow"], ids=["wide", "narrow"])


@functools.cache
def of(case: str) -> tuple[PageContent, PageSpring, dict[str, float]]:
    content = sample(case)
    spring = page_spring(content)
    assert content.result is not None
    assert spring is not None
    return content, spring, {e.label: e.value for e in content.result.inputs}


def views(root: ET.Element) -> dict[str, ET.Element]:
    return {n.attrib["data-view"]: n for n in root.iter("g") if "data-view" in n.attrib}


def named(root: ET.Element, name: str) -> list[ET.Element]:
    return [node for node in root.iter() if node.get("data-name") == name]


def px(node: ET.Element) -> float:
    """How long a line, how wide a circle is."""
    if node.tag == "circle":
        return 2 * float(node.attrib["r"])
    x1, y1, x2, y2 = (float(node.attrib[k]) for k in ("x1", "y1", "x2", "y2"))
    return float(((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5)


def points(path: ET.Element) -> Iterator[tuple[float, float]]:
    for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.attrib["d"]):
        yield float(x), float(y)


@FORMS
@pytest.mark.parametrize("case", SIZED)
def test_the_plan_is_to_scale(case: str, form: str) -> None:
    _, spring, known = of(case)
    assert spring.length is not None
    size = spring.thickness.value_mm, spring.length.value_mm
    shown = {"Run down": "inside coils", "Wound": "over coils"}
    bands = {
        "Run down": run_down_inner_diameter(known["bore"], *size),
        "Wound": wound_outer_diameter(known["arbor"], *size),
    }
    found = views(drawings(case)[f"plan{form}"])
    assert found.keys() == shown.keys()
    for heading, view in found.items():
        scale = float(view.attrib["data-px-per-mm"])
        for name in ("bore", "arbor"):
            for drawn in named(view, name):
                assert px(drawn) == pytest.approx(known[name] * scale, abs=PIXEL)
        (band,) = named(view, shown[heading])
        assert px(band) == pytest.approx(bands[heading] * scale, abs=PIXEL)


@FORMS
@pytest.mark.parametrize("case", SIZED)
def test_the_coils_are_as_long_as_the_spring(case: str, form: str) -> None:
    _, spring, _ = of(case)
    assert spring.length is not None
    for view in views(drawings(case)[f"plan{form}"]).values():
        scale = float(view.attrib["data-px-per-mm"])
        (coils,) = named(view, "coils")
        ends = [(x, y) for i, (x, y) in enumerate(points(coils)) if i % 3 == 0]
        steps = pairwise(ends)
        chords = sum(((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5 for (x1, y1), (x2, y2) in steps)
        # Eight chords a turn are 2.6 % shorter than the arc: sin(22.5 degrees) / (pi / 8).
        assert chords / 0.9745 / scale == pytest.approx(spring.length.value_mm, rel=0.003)


@FORMS
@pytest.mark.parametrize("case", WITH_HEIGHT)
def test_the_section_is_to_scale(case: str, form: str) -> None:
    content, spring, known = of(case)
    assert content.result is not None
    assert content.result.height is not None
    assert spring.height is not None
    view = views(drawings(case)[f"section{form}"])["section"]
    scale = float(view.attrib["data-px-per-mm"])
    heights = {
        "available height": content.result.height.value,
        spring.name: spring.height.value_mm,
        "half bore": known["bore"] / 2,
        "half arbor": known["arbor"] / 2,
        "clearance": known["clearance"],
    }
    for name, height_mm in heights.items():
        assert named(view, name), name
        for drawn in named(view, name):
            assert px(drawn) == pytest.approx(height_mm * scale, abs=PIXEL), name
    for coil in named(view, "coil"):
        drawn_px = float(coil.attrib["height"])
        assert drawn_px == pytest.approx(spring.height.value_mm * scale, abs=PIXEL)


@FORMS
def test_the_section_says_when_the_spring_meets_the_lid(form: str) -> None:
    root = drawings("documented")[f"section{form}"]
    assert named(root, "overlap")
    assert "too high" in " ".join(node.text or "" for node in root.iter("text"))


@FORMS
@pytest.mark.parametrize("case", SIZED)
def test_the_torque_curve_is_the_computed_one(case: str, form: str) -> None:
    content = sample(case)
    plot = torque_plot(content)
    assert plot is not None
    (shown,) = (
        g for g in drawings(case)[f"torque{form}"].iter("g") if "data-px-per-turn" in g.attrib
    )
    per_turn, per_nmm, x0, y0 = (
        float(shown.attrib[f"data-{k}"])
        for k in ("px-per-turn", "px-per-nmm", "origin-x", "origin-y")
    )
    (curve,) = named(shown, "spring")
    expected = zip(plot.spring.turns, plot.spring.middle_nmm, strict=True)
    for (x, y), (turns, torque) in zip(points(curve), expected, strict=True):
        assert x == pytest.approx(x0 + turns * per_turn, abs=PIXEL)
        assert y == pytest.approx(y0 - torque * per_nmm, abs=PIXEL)
    assert plot.hours_per_turn is not None
    (day,) = named(shown, "24 h")
    at = x0 + DAY_H / plot.hours_per_turn * per_turn
    assert float(day.attrib["x1"]) == pytest.approx(at, abs=PIXEL)


@FORMS
@pytest.mark.parametrize(
    "case",
    [
        *("whole", "hostile", "unfinished", "no_lid"),
        pytest.param("many_readings", marks=pytest.mark.campaign),
    ],
)
def test_every_reading_is_a_dot_or_a_cross_in_its_place(case: str, form: str) -> None:
    content = sample(case)
    taken = [series for part in content.parts for series in part.series]
    summaries = [summary for part in content.parts for summary in part.summaries]
    assert taken
    for number, (series, summary) in enumerate(zip(taken, summaries, strict=True), start=1):
        root = drawings(case)[f"readings-{number}{form}"]
        (plot,) = (g for g in root.iter("g") if "data-origin-mm" in g.attrib)
        scale, origin, x0 = (
            float(plot.attrib[f"data-{k}"]) for k in ("px-per-mm", "origin-mm", "origin-x")
        )
        rejected = {mark.index for mark in summary.marks if mark.rejected}
        kept = [r.value_mm for i, r in enumerate(series.readings) if i not in rejected]
        dots = named(plot, "reading")
        assert len(dots) == len(kept) == summary.n_used
        for dot, value in zip(dots, sorted(kept), strict=True):
            at = x0 + (value - origin) * scale
            assert float(dot.attrib["cx"]) == pytest.approx(at, abs=PIXEL)
        crosses = named(plot, "rejected") + named(plot, "beyond")
        assert len(crosses) == len(rejected)


def test_every_reading_stands_as_a_number_beside_its_dots() -> None:
    job = record(
        (
            *acts(),
            *taken(CALIPER, "bore", "9.87"),
            Undone(gauge_id=CALIPER.gauge_id, elapsed_s=9.0, measurand="bore", displayed="9.87"),
        )
    )
    page = content_of(job, barrel_of(job))
    (bore,) = (each for each in readings_figures(page) if each.plot.measurand == "bore")
    (mark,) = (m for m in page.parts[0].summaries[0].marks if m.rejected)
    assert bore.said[0] == (
        "Readings (mm): 11.52, 11.51, 11.22 (rejected), 11.52, 11.53, 11.51, 11.52."
    )
    assert bore.said[1] == f"11.22 rejected: {mark.reason}"
    assert bore.said[2] == "Undone by hand, not counted: 9.87."
    captions = [each.text for each in parsed(page_html(page)).all("figcaption")]
    for figure in readings_figures(page):
        assert " ".join(figure.said) in captions
        written = " ".join(page_text(page).split())
        assert all(" ".join(line.split()) in written for line in figure.said)


def test_many_readings_are_counted_by_what_they_show() -> None:
    bore = ["11.51", "11.52"] * 18
    page = content_of(job := record(acts(bore=bore)), barrel_of(job))
    (figure,) = (each for each in readings_figures(page) if each.plot.measurand == "bore")
    assert figure.said[0] == "Readings (mm): 18 x 11.51, 18 x 11.52."


@FORMS
@pytest.mark.parametrize("case", SIZED)
def test_rules_and_springs_stand_where_their_sizes_are(case: str, form: str) -> None:
    for number, panel in enumerate(rule_panels(sample(case)), start=1):
        (view,) = views(drawings(case)[f"rules-{number}{form}"]).values()
        scale, origin, x0 = (
            float(view.attrib[f"data-{k}"]) for k in ("px-per-unit", "origin", "origin-x")
        )
        marks = [node for node in view.iter("path") if "data-kind" in node.attrib]
        assert len(marks) == len(panel.rows)
        for mark, row in zip(marks, panel.rows, strict=True):
            xs = [x for x, _ in points(mark)]
            at = x0 + (row.size.value_mm - origin) * scale
            assert float(mark.attrib["data-value"]) == pytest.approx(row.size.value_mm, rel=1e-6)
            assert min(xs) - 1 <= at <= max(xs) + 30  # a ring's path names only its left end


@FORMS
@pytest.mark.parametrize("case", SIZED)
def test_bars_of_the_budget_are_as_long_as_their_shares(case: str, form: str) -> None:
    made = budgets(sample(case))
    assert made
    for number, budget in enumerate(made, start=1):
        root = drawings(case)[f"budget-{number}{form}"]
        (group,) = (g for g in root.iter("g") if "data-px-per-share" in g.attrib)
        full = float(group.attrib["data-px-per-share"])
        drawn = [node for node in group.iter("path") if "data-share" in node.attrib]
        for bar, share in zip(drawn, budget.bars, strict=True):
            width = re.search(r"h([\d.]+)", bar.attrib["d"])
            assert width is not None
            assert float(width[1]) == pytest.approx(share.share * full, abs=PIXEL)
        assert sum(b.share for b in budget.bars) + budget.left_out == pytest.approx(1.0, abs=1e-9)
