"""Names in words: what joins words goes, the point of a number stays."""

from __future__ import annotations

import pytest

from gaugelink.units import spoken


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("bore", "bore"),
        ("found_thickness", "found thickness"),
        ("found.height", "found height"),
        ("ratio-30.turns_usable", "ratio-30 turns usable"),
        ("length_5.01_mm", "length 5.01 mm"),
        ("caliper inside jaw flats (0 to 0.3 mm assumed)",) * 2,
    ],
)
def test_a_name_is_said_in_words_and_its_numbers_stay_whole(name: str, words: str) -> None:
    assert spoken(name) == words
