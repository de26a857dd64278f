"""The bar is the clock that takes the reading: it is full when, and only when, one is taken."""

from __future__ import annotations

import math

import pytest
from capture_bench import reading
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.capture.stream import HOLD_S, MAX_GAP_S, SETTLE_S, StreamFinder, make_seeker
from gaugelink.model import Seek

# Waits from a quick stream to a silence; values that creep, rest, rock and leap.
FRAMES = st.lists(
    st.tuples(
        st.sampled_from([0.05, 0.1, 0.25, 0.5, 1.0, 2.4, 2.6]),
        st.sampled_from([1102, 1103, 1104, 1095, 1090, 900]),
    ),
    min_size=1,
    max_size=60,
)


@pytest.mark.parametrize("seek", Seek)
@given(frames=FRAMES, repeats=st.integers(1, 12))
def test_it_is_full_exactly_when_a_reading_is_found(seek, frames, repeats):
    seeker, now_s = make_seeker(seek), 0.0
    for wait_s, value in frames:
        for _ in range(repeats):
            now_s += wait_s
            found = seeker.feed(now_s, reading(f"{value / 100:.2f}"))
            share = seeker.share(now_s)
            assert 0.0 <= share <= 1.0
            assert (share >= 1.0) == (found is not None)
            if found:
                seeker.reset()


@pytest.mark.parametrize(("seek", "rest_s"), [(Seek.SETTLED, SETTLE_S), (Seek.MINIMUM, HOLD_S)])
def test_it_grows_evenly_with_the_time_held(seek, rest_s):
    seeker, shares = make_seeker(seek), []
    for n in range(round(rest_s * 20)):
        seeker.feed(n / 20, reading("11.02"))
        shares.append(seeker.share(n / 20))
    assert shares == sorted(shares)
    assert shares[4:] == [pytest.approx(n / 20 / rest_s, abs=1e-4) for n in range(4, len(shares))]


def test_it_stays_between_frames_and_a_silence_empties_it():
    seeker = make_seeker(Seek.SETTLED)
    for n in range(10):
        seeker.feed(n / 20, reading("5.00"))
    half = seeker.share(0.45)
    assert half == pytest.approx(0.45 / SETTLE_S, abs=1e-4)
    assert seeker.share(0.45 + MAX_GAP_S) == half  # else it would be full with nothing taken
    assert seeker.share(0.46 + MAX_GAP_S) == 0.0


def test_a_bore_that_is_not_rocked_fills_nothing():
    seeker = make_seeker(Seek.MAXIMUM)
    for n in range(60):
        seeker.feed(n / 20, reading("11.02"))
        assert seeker.share(n / 20) == 0.0
    assert not seeker.has_rocked
    for n in range(60, 75):
        dip_mm = 0.2 * abs(math.sin((n - 60) / 5))
        seeker.feed(n / 20, reading(f"{11.02 - dip_mm:.2f}"))
    assert seeker.has_rocked
    assert seeker.share(74 / 20) < 1.0


def test_after_a_reading_it_is_empty_until_the_gauge_has_left():
    finder = StreamFinder()
    found = [finder.find("depth", Seek.SETTLED, n / 20, reading("2.31")) for n in range(15)]
    assert found[-1] is not None
    assert (finder.must_leave, finder.share(0.7)) == (True, 0.0)
    finder.find("depth", Seek.SETTLED, 0.75, reading("2.31"))
    assert (finder.must_leave, finder.share(0.75)) == (True, 0.0)
    finder.find("depth", Seek.SETTLED, 0.80, reading("2.50"))
    finder.find("depth", Seek.SETTLED, 0.85, reading("2.50"))
    assert not finder.must_leave
    assert finder.share(0.85) == pytest.approx(0.05 / SETTLE_S, abs=1e-4)
    assert finder.full_in_s(0.85) == pytest.approx(0.65, abs=1e-3)
