from __future__ import annotations

import math
from dataclasses import replace

import pytest
from drawing_samples import LONG, plan, plans, size, torque_plots, trace
from hypothesis import given, settings
from hypothesis import strategies as st

from gaugelink.drawing.barrel_plan import BarrelPlan
from gaugelink.drawing.terminal import Canvas, plan_text, torque_text
from gaugelink.drawing.torque_plot import TorquePlot

BRAILLE = {chr(c) for c in range(0x2801, 0x2900)}


def dots(text: str) -> set[tuple[int, int]]:
    """Places of the braille dots in a text, as the Unicode chart numbers them."""
    order = {0: (0, 0), 1: (0, 1), 2: (0, 2), 3: (1, 0), 4: (1, 1), 5: (1, 2), 6: (0, 3), 7: (1, 3)}
    return {
        (2 * column + order[bit][0], 4 * row + order[bit][1])
        for row, line in enumerate(text.split("\n"))
        for column, char in enumerate(line)
        if char in BRAILLE
        for bit in range(8)
        if ord(char) - 0x2800 >> bit & 1
    }


@given(st.sets(st.tuples(st.integers(0, 19), st.integers(0, 11))))
def test_each_dot_stands_where_it_was_put(places: set[tuple[int, int]]) -> None:
    canvas = Canvas(columns=10, rows=3)
    for x, y in places:
        canvas.dot(x, y)
    assert dots(canvas.text()) == places


@given(st.floats(-50, 50), st.floats(-50, 50), st.text(max_size=30))
def test_what_lies_outside_the_canvas_is_left_out(x: float, y: float, text: str) -> None:
    canvas = Canvas(columns=5, rows=3)
    canvas.circle(x, y, 10)
    canvas.line(x, y, -y, x)
    canvas.write(round(x), round(y) % 3, text)
    lines = canvas.text().split("\n")
    assert len(lines) == 3 and all(len(line) <= 5 for line in lines)


@pytest.mark.parametrize(
    ("line", "char"),
    [
        ((0, 0, 0, 3), "|"),
        ((0, 3, 1, 3), "_"),
        ((0, 0, 1, 0), '"'),
        ((0, 2, 1, 2), "-"),
        ((0, 3, 1, 0), "/"),
        ((0, 0, 1, 3), "\\"),
        ((0, 0, 0, 0), "'"),
        ((1, 3, 1, 3), "."),
    ],
)
def test_ascii_looks_like_the_dots(line: tuple[int, int, int, int], char: str) -> None:
    canvas = Canvas(columns=1, rows=1)
    canvas.line(*line)
    assert canvas.text(ascii_only=True) == char


def test_control_characters_of_a_name_do_not_reach_the_terminal() -> None:
    evil = "a\x1b[31mb\rc"
    plot = TorquePlot(spring=trace(evil), compared=trace(evil))
    for text in (torque_text(plot), plan_text(plan(length=900.0, name=evil))):
        assert all(char.isprintable() or char == "\n" for char in text)


@settings(deadline=None, max_examples=30)
@given(torque_plots(), st.booleans(), st.integers(40, 78))
def test_a_torque_text_keeps_its_width(plot: TorquePlot, ascii_only: bool, columns: int) -> None:
    text = torque_text(plot, columns=columns, ascii_only=ascii_only)
    assert all(len(line) <= columns for line in text.split("\n"))
    assert text.isascii() or not ascii_only


@settings(deadline=None, max_examples=15)
@given(plans(), st.booleans(), st.integers(40, 78))
def test_a_plan_text_keeps_its_width(barrel: BarrelPlan, ascii_only: bool, columns: int) -> None:
    text = plan_text(barrel, columns=columns, ascii_only=ascii_only)
    assert all(len(line) <= columns for line in text.split("\n"))
    assert text.isascii() or not ascii_only


def test_the_band_in_the_terminal_is_where_the_coils_lie() -> None:
    """Of the dots on the horizontal through the axis, from the wall inwards."""
    text = plan_text(plan())  # bore 11, clear inside the coils 8.20
    found = dots(text)
    left = min(x for x, _ in found)
    middle = left + 35  # the bore is 71 dots wide
    centre = 4 * 3 + 36
    radii = sorted(middle - x for x in range(left, middle) if (x, centre) in found)
    band = [r / 35 * 5.5 for r in radii if r / 35 * 5.5 > 3]
    assert min(band) == pytest.approx(8.2 / 2, abs=0.25)
    assert max(band) == pytest.approx(5.5, abs=0.16)


def test_a_circle_is_round() -> None:
    canvas = Canvas(columns=20, rows=10)
    canvas.circle(19, 19, 15)
    radii = [math.hypot(x - 19, y - 19) for x, y in dots(canvas.text())]
    assert min(radii) > 14.2 and max(radii) < 15.8


def test_the_words_below_the_curve_say_what_it_is() -> None:
    plot = TorquePlot(
        spring=trace("by rule", turns=6.5), compared=trace(LONG, 8.0, 6.0), hours_per_turn=7.5
    )
    text = torque_text(plot)
    assert "line: by rule, ends at 6.5 turns" in text
    assert "24 h takes 3.2 turns and leaves 71 %" in text
    assert "dashes: a spring of a very long name" in text


def test_an_assumed_arbor_is_dotted_and_said() -> None:
    measured = plan()
    assumed = replace(measured, arbor=size(11 / 3, 0.3, assumed=True), spring=None)
    assert "assumed" in plan_text(assumed)
    bare = plan_text(replace(measured, spring=None))
    assert "assumed" not in bare
    assert len(dots(plan_text(assumed))) < len(dots(bare))
