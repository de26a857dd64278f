from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.drawing.dimension import across, axis_over, round_step, scale_bar
from gaugelink.drawing.lettering import NOTE_PX, text_width
from gaugelink.drawing.svg import render

spans = st.floats(1e-5, 1e5)


@given(spans, st.integers(2, 12))
def test_a_step_is_round_and_the_smallest_that_will_do(span: float, most: int) -> None:
    step = round_step(span, most)
    mantissa = step / 10 ** math.floor(math.log10(step) + 1e-9)
    assert any(mantissa == pytest.approx(m) for m in (1, 2, 2.5, 5, 10))
    assert span / step <= most * (1 + 1e-6)
    assert span / step > most / 2.6


@given(st.floats(-1e3, 1e3), spans)
def test_an_axis_holds_its_values_and_ends_on_ticks(low: float, span: float) -> None:
    axis = axis_over([low, low + span], start_px=10, end_px=510, most_ticks=6)
    rounding = 1e-6 * span + 1e-12 * abs(low)
    assert axis.low <= low + rounding and axis.high >= low + span - rounding
    assert axis.px(axis.low) == pytest.approx(10)
    assert axis.px(axis.high) == pytest.approx(510)
    assert 2 <= len(axis.ticks) <= 9
    assert axis.ticks[0] == pytest.approx(axis.low, abs=1e-6 * axis.step)


@given(st.floats(0, 500), st.floats(0.001, 100))
def test_ticks_are_told_apart_and_say_their_value(low: float, span: float) -> None:
    axis = axis_over([low, low + span], start_px=0, end_px=500, most_ticks=6)
    written = [axis.text(tick) for tick in axis.ticks]
    assert len(set(written)) == len(written)
    for tick, text in zip(axis.ticks, written, strict=True):
        assert float(text) == pytest.approx(tick, abs=axis.step * 1e-6)


@given(st.floats(0, 500), st.floats(0.001, 100), st.floats(250, 600), st.integers(2, 9))
def test_figures_of_ticks_stand_side_by_side(
    low: float, span: float, end: float, most: int
) -> None:
    axis = axis_over([low, low + span], start_px=0, end_px=end, most_ticks=most)
    written = [ET.fromstring(render(each)) for each in across(axis, 0) if each.tag == "text"]
    places = [(float(n.attrib["x"]), text_width(n.text or "", NOTE_PX)) for n in written]
    assert places[0][0] == 0
    for (x1, wide1), (x2, wide2) in pairwise(places):
        assert x2 - x1 >= (wide1 + wide2) / 2


def test_a_tick_at_zero_has_no_sign() -> None:
    axis = axis_over([-0.2, 0.2], start_px=0, end_px=100, most_ticks=4)
    assert [axis.text(tick) for tick in axis.ticks] == ["-0.2", "-0.1", "0.0", "0.1", "0.2"]


@given(st.floats(0.5, 500))
def test_a_scale_bar_is_the_longest_of_round_mm(px_per_mm: float) -> None:
    drawn = ET.fromstring(render(scale_bar(px_per_mm, 12, 40)))
    (bar,) = (line for line in drawn.iter("line") if "data-mm" in line.attrib)
    long_mm = float(bar.attrib["data-mm"])
    assert long_mm / 10 ** math.floor(math.log10(long_mm) + 1e-9) in (
        pytest.approx(1),
        pytest.approx(2),
        pytest.approx(5),
    )
    long_px = float(bar.attrib["x2"]) - float(bar.attrib["x1"])
    assert long_px == pytest.approx(long_mm * px_per_mm, abs=0.02)
    assert 120 / 2.5 - 0.02 <= long_px <= 120 + 0.02  # the widest gap is from 2 to 5
    (text,) = drawn.iter("text")
    assert text.text == f"{long_mm:g} mm; sizes in mm"
