from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.drawing.lettering import broken, shortened, text_width, with_figure

# Advances of DejaVu Sans in units of 1/2048 em, read from its hmtx table (fonts-dejavu 2.37).
DEJAVU = {
    "0": 1303,
    "1": 1303,
    ".": 651,
    " ": 651,
    "a": 1255,
    "i": 569,
    "m": 1995,
    "w": 1675,
    "W": 2025,
    "M": 1767,
    "R": 1423,
    "O": 1612,
    "±": 1716,
}


@pytest.mark.parametrize(("char", "advance"), DEJAVU.items())
def test_a_width_is_that_of_a_wide_font_or_little_more(char: str, advance: int) -> None:
    assert advance / 2048 <= text_width(char, 1.0) <= 1.25 * advance / 2048 + 0.05


@given(st.text(max_size=80), st.floats(30, 400))
def test_a_shortened_text_fits_and_begins_as_it_was(text: str, width: float) -> None:
    short = shortened(text, 20, width)
    assert text_width(short, 20) <= width
    assert " ".join(text.split()).startswith(short.rstrip("…"))


@given(st.text(max_size=200), st.floats(30, 400), st.integers(1, 4))
def test_broken_lines_fit_and_are_not_too_many(text: str, width: float, most: int) -> None:
    lines = broken(text, 20, width, most)
    assert len(lines) <= most
    assert all(text_width(line, 20) <= width for line in lines)


def test_a_text_is_broken_at_its_blanks_and_nothing_is_lost() -> None:
    text = "a run-down spring lies on the wall of its barrel"
    lines = broken(text, 20, 200, 9)
    assert len(lines) > 2
    assert " ".join(lines) == text


@given(st.text(max_size=80), st.integers(1, 3))
def test_the_figure_survives_any_name(name: str, most: int) -> None:
    lines = with_figure(name, "1.500 ± 0.020", 20, 300, most)
    assert len(lines) <= most
    assert lines[-1].endswith("1.500 ± 0.020")
    assert all(text_width(line, 20) <= 300 for line in lines)


def test_what_is_shown_as_a_replacement_is_as_wide_as_one() -> None:
    assert text_width("a\x00b", 20) == text_width("a\ufffdb", 20)


def test_a_name_that_leaves_no_room_stands_above_its_figure() -> None:
    figure = "1.500 ± 0.020"
    assert with_figure("lid", figure, 20, 300, 2) == (f"lid: {figure}",)
    assert with_figure("available height", figure, 20, 300, 2) == ("available height:", figure)
    (cut,) = with_figure("available height", figure, 20, 300)
    assert "…" in cut
