from __future__ import annotations

import pytest
from drawing_samples import BARS, ROWS, SHEETS, panels, row
from examples import examples
from hypothesis import example, given, settings
from read_back import Node, points, root_of, texts, views

from gaugelink.drawing.lettering import Sheet
from gaugelink.drawing.rules_plot import RowKind, RulePanel, draw_budget, draw_rules


def extent(node: Node) -> tuple[float, float]:
    xs = [x for x, _ in points(node.attrib["d"])]
    return min(xs), max(xs)


@pytest.mark.parametrize("sheet", Sheet)
def test_a_bar_is_as_long_as_its_share(sheet: Sheet) -> None:
    root = root_of(draw_budget("length", BARS, prefix="b", sheet=sheet))
    (group,) = [node for node in root.iter("g") if "data-px-per-share" in node.attrib]
    full = float(group.attrib["data-px-per-share"])
    edges = [node for node in root.iter("path") if "data-share" in node.attrib]
    assert len(edges) == len(BARS)
    for edge, bar in zip(edges, BARS, strict=True):
        left, right = extent(edge)
        assert (right - left) / full == pytest.approx(bar.share, abs=1 / full)


def test_only_type_a_is_hatched_and_shares_are_written() -> None:
    root = root_of(draw_budget("length", BARS, prefix="b"))
    hatched = [node for node in root.iter("path") if "type-a" in node.get("fill", "")]
    assert len(hatched) == sum(bar.kind == "A" for bar in BARS) == 1
    shown = texts(root)
    assert "arbor assumed: 75 %" in shown
    assert any(text.endswith(": 25 %") for text in shown)


NARROW = RulePanel(title="", rows=(row("", RowKind.RULE, 1.0, 2.0**-23),))


@settings(deadline=None, max_examples=examples(40))
@given(panels(), SHEETS)
@example((NARROW,), Sheet.WIDE)
def test_marks_and_intervals_stand_at_their_values(
    drawn: tuple[RulePanel, ...], sheet: Sheet
) -> None:
    root = root_of(draw_rules(drawn, prefix="r", sheet=sheet))
    shown = [node for node in root.iter("g") if "data-view" in node.attrib]
    for panel, view in zip(drawn, shown, strict=True):
        scale, origin, start = (
            float(view.attrib[f"data-{key}"]) for key in ("px-per-unit", "origin", "origin-x")
        )
        marks = [node for node in view.iter("path") if "data-value" in node.attrib]
        bars = [
            node
            for node in view.iter("line")
            if node.get("class") == "edge" and node.attrib["y1"] == node.attrib["y2"]
        ]
        for shown_row, mark, bar in zip(panel.rows, marks, bars, strict=True):
            for x, value in (
                (sum(extent(mark)) / 2, shown_row.size.value_mm),
                (float(bar.attrib["x1"]), shown_row.size.low_mm),
                (float(bar.attrib["x2"]), shown_row.size.high_mm),
            ):
                assert origin + (x - start) / scale == pytest.approx(value, abs=1 / abs(scale))


def test_each_kind_has_a_shape_of_its_own() -> None:
    root = root_of(draw_rules((RulePanel(title="thickness in mm", rows=ROWS),), prefix="r"))
    shapes = {}
    for node in root.iter("path"):
        if "data-kind" in node.attrib:
            letters = "".join(c for c in node.attrib["d"] if c.isalpha())
            shapes[node.attrib["data-kind"]] = letters
    assert set(shapes) == set(RowKind)
    assert len(set(shapes.values())) == len(RowKind)


@pytest.mark.parametrize(("rows", "value"), [(ROWS, 0.125), (ROWS[:2], 0.13), (ROWS[:1], None)])
def test_the_pick_else_the_found_spring_is_carried_through_its_panel(
    rows: tuple[object, ...], value: float | None
) -> None:
    panel = RulePanel(title="thickness in mm", rows=rows)  # type: ignore[arg-type]
    root = root_of(draw_rules((panel,), prefix="r"))
    (view,) = views(root).values()
    lines = [node for node in view.iter("line") if node.get("data-name") == "reference"]
    assert len(lines) == (value is not None)
    for line in lines:
        scale, origin, start = (
            float(view.attrib[f"data-{key}"]) for key in ("px-per-unit", "origin", "origin-x")
        )
        drawn = origin + (float(line.attrib["x1"]) - start) / scale
        assert drawn == pytest.approx(value, abs=1 / scale)
