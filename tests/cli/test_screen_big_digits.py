"""Digits to be read from a metre away: all different, never too wide, never misread."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.cli.screen import ROWS, big

LEAST_DIFFERENCE = 4  # pixels of 25

numbers = st.decimals(-999, 999, places=4).map(str)


def test_every_digit_is_its_own() -> None:
    for one, other in combinations("0123456789", 2):
        pixels = zip("".join(big(one, width=5)), "".join(big(other, width=5)), strict=True)
        assert sum(a != b for a, b in pixels) >= LEAST_DIFFERENCE, f"{one} looks like {other}"


@pytest.mark.parametrize("sign", "-+.,")
def test_signs_are_drawn(sign: str) -> None:
    assert any("█" in row for row in big(sign, width=80))


@given(numbers, st.integers(1, 200))
def test_figures_are_five_even_rows_within_the_width_or_plain_text(text: str, width: int) -> None:
    rows = big(text, width=width)
    if rows == [text]:
        return
    assert len(rows) == ROWS
    assert len({len(row) for row in rows}) == 1
    assert len(rows[0]) <= width


@given(numbers)
def test_more_room_never_makes_figures_smaller(text: str) -> None:
    widths = [len(big(text, width=width)[0]) for width in range(10, 160, 5)]
    assert widths == sorted(widths)


def test_wide_pixels_are_used_where_they_fit() -> None:
    wide, narrow = big("8", width=10), big("8", width=9)
    assert wide[0] == "  ██████  "
    assert narrow[0] == " ███ "
    assert big("8", width=4) == ["8"]


def test_ink_may_be_chosen_and_other_characters_are_left_out() -> None:
    assert big("1x", width=80, ink="#") == big("1", width=80, ink="#")
    assert set("".join(big("1", width=80, ink="#"))) == {"#", " "}
