from __future__ import annotations

import pytest

from gaugelink.drawing.lettering import NOTE_PX, Anchor, PlacedText, first_free

HERE = PlacedText(text="24 h: 67 % left", x=100, y=50)


@pytest.mark.parametrize(
    ("x", "y", "anchor", "covered"),
    [
        (110, 55, "start", True),
        (110, 50 + 1.1 * NOTE_PX, "start", False),
        (110, 50 - 1.1 * NOTE_PX, "start", False),
        (99, 50, "end", False),
        (101, 50, "end", True),
        (400, 50, "start", False),
    ],
)
def test_a_note_covers_what_it_runs_into(x: float, y: float, anchor: Anchor, covered: bool) -> None:
    other = PlacedText(text="ends at 6.4", x=x, y=y, anchor=anchor)
    assert HERE.covers(other) is other.covers(HERE) is covered


def test_a_note_goes_to_the_first_place_that_is_free() -> None:
    places = [PlacedText(text="found", x=100, y=y) for y in (50.0, 60.0, 90.0, 120.0)]
    assert first_free(places, [HERE]) is places[2]
    assert first_free(places, []) is places[0]
    assert first_free(places[:2], [HERE]) is places[0]
