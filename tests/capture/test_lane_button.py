"""A double send is one press; two presses are two."""

from __future__ import annotations

import pytest
from capture_bench import reading

from gaugelink.capture.lane import RepeatFilter


@pytest.mark.parametrize(
    ("frames", "repeats"),
    [
        ([(0.0, "5.00")], [False]),
        ([(0.0, "5.00"), (0.1, "5.00")], [False, True]),
        ([(0.0, "5.00"), (0.3, "5.00")], [False, True]),
        ([(0.0, "5.00"), (0.31, "5.00")], [False, False]),
        ([(0.0, "5.00"), (0.1, "5.01")], [False, False]),
        ([(0.0, "5.0"), (0.1, "5.00")], [False, False]),
        ([(0.0, "5.00"), (0.1, "5.01"), (0.2, "5.00")], [False, False, False]),
        # a button held down repeats for as long as it is held
        ([(n / 4, "5.00") for n in range(8)], [False] + [True] * 7),
    ],
)
def test_repeats_are_told_from_presses(frames, repeats):
    seen = RepeatFilter()
    assert [seen.is_repeat(t, reading(value)) for t, value in frames] == repeats
