"""Letters and figures to be read from a metre away: all different, never too wide."""

from __future__ import annotations

from functools import partial
from itertools import combinations
from string import ascii_uppercase, digits

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.cli.big_letters import HALF_ROWS, ROWS, big, half_big, wrapped_big

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
    assert big("1_", width=80, ink="#") == big("1", width=80, ink="#")
    assert set("".join(big("1", width=80, ink="#"))) == {"#", " "}


def test_every_letter_is_its_own_in_both_sizes() -> None:
    for draw in (partial(big, width=5, pixels=(1,)), partial(half_big, width=5)):
        drawn = {tuple(draw(letter)) for letter in ascii_uppercase + digits}
        assert len(drawn) == 36
        assert draw("a") == draw("A")


@given(st.text(ascii_uppercase + digits + " ,.-:/", min_size=1, max_size=40), st.integers(5, 90))
def test_half_blocks_are_three_rows_of_what_big_draws_in_five(text: str, width: int) -> None:
    half = half_big(text, width=width)
    whole = big(text, width=width, pixels=(1,))
    if half == [text]:
        assert whole == [text]
        return
    assert len(half) == HALF_ROWS
    pixels = [row.replace("█", "#") for row in whole] + [" " * len(whole[0])]
    ink = {"█": "##", "▀": "# ", "▄": " #", " ": "  "}
    for n, row in enumerate(half):
        assert [a + b for a, b in zip(*pixels[2 * n : 2 * n + 2], strict=True)] == [
            ink[cell] for cell in row
        ]


def test_words_are_wrapped_whole_with_air_between_their_lines() -> None:
    half = wrapped_big("lift off now", partial(half_big, width=36))
    assert half == [*half_big("lift off", width=36), *half_big("now", width=36)]
    tall = wrapped_big("lift off now", partial(big, width=36, pixels=(1,)))
    assert len(tall) == 2 * ROWS + 1
    assert tall[ROWS] == ""
    assert wrapped_big("thickness", partial(half_big, width=20)) == ["thickness"]
