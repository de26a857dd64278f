"""The extreme of a sweep: confirmed, held 1.5 s near by, and in a bore rocked."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import pytest
from capture_bench import reading

from gaugelink.capture.stream import Seeker, make_seeker
from gaugelink.model import Seek

BORE_MM = 11.02
PERIOD_S = 1.2  # one rocking to and fro


def chord(off_mm: float, bore_mm: float = BORE_MM) -> str:
    """Return what inside jaws show that lie ``off_mm`` beside the middle of a bore."""
    return f"{2 * math.sqrt((bore_mm / 2) ** 2 - off_mm**2):.2f}"


def rocking(for_s: float, hz: float, reach_mm: float = 1.0) -> list[str]:
    """Return a rocking sweep that begins off the middle."""
    times = [n / hz for n in range(round(for_s * hz))]
    return [chord(reach_mm * math.cos(2 * math.pi * t / PERIOD_S)) for t in times]


def found_in(
    values: Iterable[str], hz: float = 20.0, seek: Seek = Seek.MAXIMUM, seeker: Seeker | None = None
) -> str | None:
    """Return the first reading found, as displayed."""
    seeker = seeker or make_seeker(seek)
    for n, value in enumerate(values):
        if found := seeker.feed(n / hz, reading(value)):
            return found.displayed
    return None


HELD = [chord(0.0)] * 40


@pytest.mark.parametrize("hz", [10.0, 20.0])
def test_bore_is_the_largest_of_a_rocking_sweep(hz):
    assert found_in(rocking(6.0, hz), hz) == "11.02"


@pytest.mark.parametrize("hz", [2.0, 3.0, 5.0, 10.0, 20.0])
def test_bore_is_found_on_any_stream_when_the_largest_is_held(hz):
    assert found_in([*rocking(4.8, hz), *HELD], hz) == "11.02"


@pytest.mark.parametrize(
    ("low", "n_low", "found"),
    [
        ("10.90", 3, None),  # 0.20 s from the frame before the fall to the return
        ("10.90", 4, "11.02"),  # 0.25 s
        ("10.97", 4, None),  # five steps are flicker
        ("10.96", 4, "11.02"),
        ("10.72", 4, "11.02"),
        ("10.71", 4, None),  # 0.31 mm off is another sweep
    ],
)
def test_rocking_is_a_fall_that_lasts_and_stays_near(low, n_low, found):
    assert found_in(["11.02", "11.02", *[low] * n_low, *["11.02"] * 60]) == found


# Rocked, the largest seen twice, and rocking on: 11.00 is two steps short of it.
MOVING = ["11.02", "11.02", "10.90", "10.90", "11.00", *["10.95", "11.00"] * 12]


@pytest.mark.parametrize(("hz", "found"), [(2.0, None), (5.0, None), (7.0, None), (8.0, "11.02")])
def test_only_a_quick_stream_finds_the_bore_while_it_is_rocked(hz, found):
    """A slow one misses most extremes: whoever rocks on may be about to show a larger."""
    assert found_in(MOVING, hz) == found


@pytest.mark.parametrize(
    ("held", "found"),
    [
        (["11.02"] * 2, None),
        (["11.02"] * 3, "11.02"),
        (["11.01"] * 3, "11.02"),  # flicker of one step
        (["11.00"] * 3, None),
        (["11.02", "11.00", "11.02", "11.02"], None),
        (["11.02", "11.00", "11.02", "11.02", "11.02"], "11.02"),
    ],
)
def test_on_a_slow_stream_the_largest_must_be_held_for_three_frames(held, found):
    assert found_in([*MOVING[:12], *held], 3.0) == found


def test_an_arbor_on_a_slow_stream_must_be_held_at_its_smallest():
    turned = ["3.80", "3.68", "3.68", *["3.72", "3.70"] * 6]
    assert found_in(turned, 3.0, Seek.MINIMUM) is None
    assert found_in([*turned, *["3.68"] * 2], 3.0, Seek.MINIMUM) is None
    assert found_in([*turned, *["3.68"] * 3], 3.0, Seek.MINIMUM) == "3.68"


def test_largest_must_stand_for_a_second_and_a_half():
    rocked = ["11.02", "11.02", *["10.90"] * 6, "11.02"]
    assert found_in([*rocked, *["11.02"] * 29]) is None
    assert found_in([*rocked, *["11.02"] * 30]) == "11.02"


def test_new_maximum_starts_the_hold_again():
    rocked = ["11.02", "11.02", *["10.90"] * 6, *["11.02"] * 25, *["11.05"] * 30]
    assert found_in(rocked) is None
    assert found_in([*rocked, "11.05"]) == "11.05"


def test_flicker_of_one_step_does_not_start_the_hold_again():
    rocked = ["11.02", "11.02", *["10.90"] * 6, *["11.02"] * 29, "11.03", "11.03", "11.03"]
    assert found_in(rocked) == "11.03"


@pytest.mark.parametrize(
    "values",
    [
        pytest.param(["11.02"] * 100, id="lying still"),
        pytest.param(
            [f"{11.02 - 0.01 * n:.2f}" for n in range(25, 0, -1)] + ["11.02"] * 100,
            id="opened in the air and laid down",
        ),
        pytest.param(
            ["11.02"] * 100 + [f"{11.02 - 0.02 * n:.2f}" for n in range(100)],
            id="lying still, then slowly closed",
        ),
        pytest.param(["11.02"] * 50 + ["10.90"] + ["11.02"] * 50, id="one wrong frame below"),
        pytest.param(["11.02"] * 50 + ["11.20"] + ["11.02"] * 50, id="one wrong frame above"),
        pytest.param(["11.02", "10.99"] * 50, id="shaking by three steps"),
    ],
)
def test_jaws_that_are_not_rocked_give_no_bore(values):
    assert found_in(values) is None


@pytest.mark.parametrize("at", [5, 30, 40, 50])
@pytest.mark.parametrize("spike", ["11.10", "11.30"])
def test_one_frame_above_all_others_is_not_the_bore(spike, at):
    values = [*rocking(2.4, 20.0), *HELD, *HELD]
    values[at] = spike
    assert found_in(values) == "11.02"


def test_leap_begins_another_sweep():
    rocked = ["11.02", "11.02", *["10.90"] * 6, *["11.02"] * 10]
    assert found_in([*rocked, *["11.60"] * 60]) is None


def test_silence_begins_another_sweep():
    seeker = make_seeker(Seek.MAXIMUM)
    rocked = ["11.02", "11.02", *["10.90"] * 6, "11.02", "11.02"]
    assert found_in(rocked, seeker=seeker) is None
    assert all(seeker.feed(5.0 + n / 20, reading("11.02")) is None for n in range(60))


@pytest.mark.parametrize("hz", [3.0, 10.0, 20.0])
def test_round_arbor_needs_no_rocking(hz):
    closing = ["3.90", "3.80", "3.75", "3.70"]
    held: Sequence[str] = ["3.68"] * round(2.2 * hz)
    assert found_in([*closing, *held], hz, Seek.MINIMUM) == "3.68"


def test_outside_size_is_the_smallest_of_a_sweep():
    turns = [f"{3.68 + 0.12 * (1 - math.cos(n / 8)):.2f}" for n in range(20, 120)]
    assert found_in(turns, 20.0, Seek.MINIMUM) == "3.68"


def test_one_frame_below_all_others_is_not_the_arbor():
    assert found_in(["3.68"] * 20 + ["3.50"] + ["3.68"] * 40, 20.0, Seek.MINIMUM) == "3.68"


def test_memory_stays_bounded():
    seeker = make_seeker(Seek.MAXIMUM)
    for n in range(5000):
        seeker.feed(n / 20, reading("11.02"))
    assert len(seeker._recent) <= 2.5 * 20 + 2  # type: ignore[attr-defined]
