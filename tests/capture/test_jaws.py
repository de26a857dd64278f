"""Jaws closed once, and jaws closed twice within three seconds."""

from __future__ import annotations

import pytest

from gaugelink.capture.jaws import ZeroSignal, ZeroWatch
from gaugelink.capture.lane import CLOSED_FRAMES

SHORT = {ZeroSignal.NONE: "-", ZeroSignal.CLOSED: "1", ZeroSignal.CLOSED_TWICE: "2"}


def signals(watch: ZeroWatch, frames: str, every_s: float) -> str:
    """Feed ``c`` for closed jaws, ``o`` for open ones, ``a`` for jaws only just ajar."""
    offsets_mm = {"c": 0.0, "a": 0.2, "o": 2.0}
    return "".join(
        SHORT[watch.feed(n * every_s, offsets_mm[frame], closed=frame == "c")]
        for n, frame in enumerate(frames)
    )


@pytest.mark.parametrize(
    ("frames", "expected"),
    [
        ("c", "1"),
        ("cc", "12"),
        ("ccc", "121"),
        ("cccc", "1212"),
        ("cocc", "1-21"),
        ("coooc", "1---1"),  # four seconds are too long
        ("cooc", "1--2"),
    ],
)
def test_each_press_at_zero_is_a_closing(frames, expected):
    assert signals(ZeroWatch(1), frames, 1.0) == expected


@pytest.mark.parametrize(
    ("frames", "expected"),
    [
        ("cccccc", "------"),  # closed since the zero reading
        ("occccc", "--1---"),  # closing counts once
        ("ococ", "----"),  # one frame is no closing
        ("occocc", "--1--2"),
        ("occoccocc", "--1--2--1"),
        ("occacc", "--1---"),  # not opened far enough in between
        ("occ" + "o" * 5 + "cc", "--1" + "-" * 6 + "1"),  # 3.5 s later
        ("occ" + "o" * 4 + "cc", "--1" + "-" * 5 + "2"),  # 3.0 s later
    ],
)
def test_closings_of_a_stream(frames, expected):
    assert signals(ZeroWatch(CLOSED_FRAMES), frames, 0.5) == expected


def test_reading_between_two_closings_parts_them():
    watch = ZeroWatch(1)
    assert watch.feed(0.0, 0.0, closed=True) is ZeroSignal.CLOSED
    watch.forget()
    assert watch.feed(1.0, 0.0, closed=True) is ZeroSignal.CLOSED


@pytest.mark.parametrize(("frames_needed", "expected"), [(1, [True, True]), (2, [False, True])])
def test_closed_is_said_after_enough_frames(frames_needed, expected):
    watch = ZeroWatch(frames_needed)
    seen = []
    for n in range(2):
        watch.feed(n / 20, 0.0, closed=True)
        seen.append(watch.is_closed)
    watch.feed(1.0, 2.0, closed=False)
    assert [*seen, watch.is_closed] == [*expected, False]
