"""A settled reading: within one step for 0.7 s, in at least three frames."""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from capture_bench import reading

from gaugelink.capture.stream import SettledSeeker

REST = ["5.00"] * 40


def first_found(values: Iterable[str], hz: float) -> tuple[int, str] | None:
    """Return the number of the frame that completes a rest, and what it shows."""
    seeker = SettledSeeker()
    for n, value in enumerate(values):
        if found := seeker.feed(n / hz, reading(value)):
            return n, found.displayed
    return None


@pytest.mark.parametrize(
    ("values", "hz", "expected"),
    [
        (REST, 20.0, (14, "5.00")),  # 14 periods of 0.05 s are 0.7 s
        (REST, 10.0, (7, "5.00")),
        (REST, 3.0, (3, "5.00")),
        (REST, 1.0, (2, "5.00")),  # three frames, however slow
        (REST, 0.5, (2, "5.00")),
        (["5.00", "5.01"] * 20, 20.0, (14, "5.00")),  # flicker of one step is rest
        (["5.00", "5.02"] * 20, 20.0, None),  # of two is not
        (["5.00", "5.01", "5.02", "5.01"] * 10, 20.0, None),
        ([f"{5 + n / 100:.2f}" for n in range(40)], 20.0, None),  # creeping a step a frame
        (["5.00"] * 10 + ["6.00"] * 20, 20.0, (24, "6.00")),
        (["5.00"] * 14, 20.0, None),  # left one frame too early
        (["0.120", "0.121"] * 10, 20.0, (14, "0.120")),  # the step of a micrometer is its own
    ],
)
def test_rest_is_found_when_it_is_complete(values, hz, expected):
    assert first_found(values, hz) == expected


@pytest.mark.parametrize(
    ("gap_s", "found_at"),
    [
        (0.4, 7),  # 0.05 + 0.4 + 5 periods of 0.05 s
        (2.4, 2),  # the third frame, after more than 0.7 s
        (2.6, 16),  # 14 periods after the silence
    ],
)
def test_long_silence_breaks_a_rest(gap_s, found_at):
    seeker = SettledSeeker()
    times = [0.0, 0.05, *(0.05 + gap_s + n / 20 for n in range(20))]
    found = [n for n, t in enumerate(times) if seeker.feed(t, reading("5.00"))]
    assert found[0] == found_at


def test_reset_forgets_the_rest():
    seeker = SettledSeeker()
    for n in range(14):
        assert seeker.feed(n / 20, reading("5.00")) is None
    seeker.reset()
    assert seeker.feed(14 / 20, reading("5.00")) is None


@pytest.mark.parametrize("hz", [0.4, 3.0, 20.0, 1000.0])
def test_run_keeps_to_the_frames_of_one_rest(hz):
    seeker = SettledSeeker()
    for n in range(5000):
        seeker.feed(n / hz, reading("5.00"))
    assert len(seeker._run) <= max(3, 0.7 * hz + 2)
