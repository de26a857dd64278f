from __future__ import annotations

import pytest
from drawing_samples import SHEETS, torque_plots, trace
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from read_back import Node, covered_texts, named, points, root_of, texts

from gaugelink.drawing.lettering import NOTE_PX, Sheet
from gaugelink.drawing.torque_plot import TorquePlot, TorqueTrace, draw_torque, value_at


def read(root: Node, d: str) -> list[tuple[float, float]]:
    """Points of a path in turns and N mm, by what the group says of its axes."""
    (group,) = [node for node in root.iter("g") if "data-px-per-turn" in node.attrib]
    turn, nmm, x0, y0 = (
        float(group.attrib[f"data-{key}"])
        for key in ("px-per-turn", "px-per-nmm", "origin-x", "origin-y")
    )
    return [((x - x0) / turn, (y0 - y) / nmm) for x, y in points(d)]


@settings(deadline=None, max_examples=examples(60))
@given(torque_plots(), SHEETS)
def test_curve_and_band_can_be_read_back(plot: TorquePlot, sheet: Sheet) -> None:
    root = root_of(draw_torque(plot, prefix="t", sheet=sheet))
    spring = plot.spring
    pixel_nmm = max(axis_top(root), *spring.high_nmm) / 300  # the axis is 300 px tall
    (curve,) = named(root, "spring", "path")
    (band,) = named(root, "band", "path")
    drawn, area = read(root, curve.attrib["d"]), read(root, band.attrib["d"])
    given_points = list(zip(spring.turns, spring.middle_nmm, strict=True))
    limits = [*zip(spring.turns, spring.high_nmm, strict=True)]
    limits += reversed([*zip(spring.turns, spring.low_nmm, strict=True)])
    for found, wanted in zip((*drawn, *area), (*given_points, *limits), strict=True):
        assert found[0] == pytest.approx(wanted[0], abs=0.03)
        assert found[1] == pytest.approx(wanted[1], abs=pixel_nmm)


def axis_top(root: Node) -> float:
    return max(float(n.text or 0) for n in root.iter("text") if n.get("data-tick") == "y")


def test_24_hours_stand_at_their_turns_with_what_is_left() -> None:
    plot = TorquePlot(spring=trace(turns=6.5), hours_per_turn=7.5)
    root = root_of(draw_torque(plot, prefix="t"))
    (day,) = named(root, "24 h", "line")
    assert float(day.attrib["data-turns"]) == pytest.approx(3.2)
    x = read(root, f"M{day.attrib['x1']} 0")[0][0]
    assert x == pytest.approx(3.2, abs=0.02)
    # The sample's torque falls as the root of the turns left: sqrt(1 - 3.2 / 6.5) = 0.713.
    assert "24 h: 71 % left" in texts(root)


def test_24_hours_beyond_the_end_are_said_and_not_drawn() -> None:
    root = root_of(draw_torque(TorquePlot(spring=trace(turns=5.0), hours_per_turn=4.0), prefix="t"))
    assert not named(root, "24 h")
    assert "24 h needs 6.0 turns" in texts(root)


def test_without_hours_per_turn_nothing_is_said_of_24_hours() -> None:
    root = root_of(draw_torque(TorquePlot(spring=trace()), prefix="t"))
    assert "24 h" not in " ".join(texts(root)) + (root[1].text or "")


def test_the_end_is_marked_where_the_curve_ends() -> None:
    root = root_of(draw_torque(TorquePlot(spring=trace(turns=6.5)), prefix="t"))
    (end,) = named(root, "usable end", "circle")
    assert read(root, f"M{end.attrib['cx']} 0")[0][0] == pytest.approx(6.5, abs=0.02)
    assert "ends at 6.5" in texts(root)


def test_a_compared_spring_is_dashed_and_both_are_named() -> None:
    plot = TorquePlot(spring=trace("by rule"), compared=trace("found", 8.0))
    root = root_of(draw_torque(plot, prefix="t"))
    (compared,), (spring,) = named(root, "compared", "path"), named(root, "spring", "path")
    assert "stroke-dasharray" in compared.attrib
    assert "stroke-dasharray" not in spring.attrib
    assert {"by rule", "found"} <= set(texts(root))


def test_both_limits_of_both_springs_are_drawn() -> None:
    plot = TorquePlot(spring=trace("by rule"), compared=trace("found", 8.0))
    root = root_of(draw_torque(plot, prefix="t"))
    starts = [read(root, node.attrib["d"])[0][1] for node in named(root, "limit", "path")]
    assert starts == pytest.approx([8.1, 9.9, 7.2, 8.8], abs=0.05)  # 9 and 8 N mm, +- 10 %


@settings(deadline=None, max_examples=examples(200))
@given(torque_plots(), SHEETS)
def test_notes_keep_clear_of_one_another(plot: TorquePlot, sheet: Sheet) -> None:
    assert covered_texts(root_of(draw_torque(plot, prefix="t", sheet=sheet))) == []


def test_the_note_of_the_end_gives_way_to_that_of_a_day() -> None:
    """Both stand near the top when a stopwork ends the curve before its torque has fallen."""
    flat = trace(full=9.05, turns=6.5, spent=0.01)
    root = root_of(draw_torque(TorquePlot(spring=flat, hours_per_turn=4.0), prefix="t"))
    heights = {n.text: float(n.attrib["y"]) for n in root.iter("text")}
    assert heights["ends at 6.5"] > heights["24 h: 100 % left"] + NOTE_PX


@pytest.mark.parametrize("short", [(), (1.0,)])
def test_a_curve_of_unequal_parts_is_refused(short: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="equally many"):
        TorqueTrace(
            name="",
            turns=(0.0, 1.0) if short else (),
            low_nmm=short,
            middle_nmm=short,
            high_nmm=short,
        )


@given(st.floats(0.0, 1.0))
def test_between_two_points_a_curve_is_straight(part: float) -> None:
    assert value_at(1 + part, (1.0, 2.0), (5.0, 3.0)) == pytest.approx(5 - 2 * part)


def test_beyond_its_ends_a_curve_holds_its_first_value_and_then_nothing() -> None:
    assert value_at(0.5, (1.0, 2.0), (5.0, 3.0)) == 5.0
    assert value_at(2.01, (1.0, 2.0), (5.0, 3.0)) == 0.0
