"""Which frames of a stream count, and that the gauge must move between two readings."""

from __future__ import annotations

import pytest
from capture_bench import reading

from gaugelink.capture.stream import SpikeGate, StreamFinder
from gaugelink.model import Seek

FAR_MM = 0.3


@pytest.mark.parametrize(
    ("sent", "passed"),
    [
        pytest.param("5.00 5.01 5.00", "5.00 5.01 5.00", id="rest is not delayed"),
        pytest.param("5.00 9.00 5.00", "5.00 5.00", id="one spike"),
        pytest.param("5.00 9.00 5.00 5.01", "5.00 5.00 5.01", id="after a spike all goes on"),
        pytest.param("5.00 9.00 9.00", "5.00 9.00 9.00", id="moved and stays"),
        pytest.param("5.00 6.00 7.00 8.00 8.00", "5.00 6.00 7.00 8.00 8.00", id="fast movement"),
        pytest.param("5.00 9.00", "5.00", id="held back until the next frame"),
        pytest.param("5.00 9.00 1.00 1.00", "5.00 9.00 1.00 1.00", id="two jumps"),
        pytest.param("5.00 5.30 5.00", "5.00 5.30 5.00", id="just near"),
        pytest.param("9.00 5.00 5.00", "9.00 5.00 5.00", id="the first frame is taken as it is"),
        pytest.param(
            "5.00 9.00 5.00 9.00 5.00 9.00 9.00",
            "5.00 5.00 9.00 5.00 9.00 9.00",
            id="to and fro is movement",
        ),
    ],
)
def test_gate_passes_on_what_is_no_spike(sent, passed):
    gate = SpikeGate()
    frames = [
        frame
        for n, value in enumerate(sent.split())
        for frame in gate.pass_on(n, reading(value), FAR_MM)
    ]
    assert " ".join(frame.displayed for _, frame in frames) == passed


def test_gate_keeps_the_times_of_frames_it_held_back():
    gate = SpikeGate()
    frames = [
        frame
        for t, value in ((1.0, "5.00"), (2.0, "9.00"), (3.0, "9.00"))
        for frame in gate.pass_on(t, reading(value), FAR_MM)
    ]
    assert [t for t, _ in frames] == [1.0, 2.0, 3.0]


def test_gate_takes_any_frame_after_an_interruption():
    gate = SpikeGate()
    gate.pass_on(0.0, reading("5.00"), FAR_MM)
    gate.reset()
    assert len(gate.pass_on(1.0, reading("9.00"), FAR_MM)) == 1


class Hand:
    """Feeds a finder at 20 Hz and gathers the readings."""

    def __init__(self, seek: Seek = Seek.SETTLED) -> None:
        self.finder = StreamFinder()
        self.seek = seek
        self.measurand = "depth"
        self.found: list[str] = []
        self._n = 0

    def show(self, *values: str) -> None:
        for value in values:
            self._n += 1
            for at_s, frame in self.finder.admit(self.seek, self._n / 20, reading(value)):
                found = self.finder.find(self.measurand, self.seek, at_s, frame)
                self.found += [found.displayed] if found else []

    def rest(self, value: str) -> None:
        self.show(*[value] * 30)


@pytest.mark.parametrize(
    ("between", "n_readings"),
    [
        pytest.param([], 1, id="resting on"),
        pytest.param(["5.01"] * 30, 1, id="one step"),
        pytest.param(["5.05"] * 30, 1, id="five steps"),
        pytest.param(["5.06"] * 3, 2, id="six steps and back"),
        pytest.param(["7.00"] * 3, 2, id="away and back"),
        pytest.param(["7.00"], 1, id="one wrong frame far off"),
        pytest.param(["5.06"], 1, id="one wrong frame near by"),
    ],
)
def test_rest_is_taken_again_only_after_moving(between, n_readings):
    hand = Hand()
    hand.rest("5.00")
    hand.show(*between)
    hand.rest("5.00")
    assert hand.found == ["5.00"] * n_readings


@pytest.mark.parametrize("at", range(3, 16))
def test_one_wrong_frame_does_not_delay_a_rest(at):
    values = ["5.00"] * 16
    values[at - 1] = "9.00"
    hand = Hand()
    hand.show(*values)
    assert hand.found == ["5.00"]


def test_fine_micrometer_is_moved_by_two_hundredths():
    hand = Hand()
    for value in ("0.120", "0.130", "0.140", "0.141"):  # warmth and finger pressure
        hand.rest(value)
    assert hand.found == ["0.120", "0.141"]


def test_rest_taken_for_one_measurand_is_not_taken_for_the_next():
    hand = Hand()
    hand.rest("5.00")
    hand.measurand = "lid"
    hand.rest("5.00")
    assert hand.found == ["5.00"]


def test_extreme_must_be_left_by_the_whole_band_whatever_comes_next():
    hand = Hand(Seek.MINIMUM)
    hand.rest("3.68")
    hand.rest("3.68")
    hand.measurand, hand.seek = "found_height", Seek.SETTLED
    hand.rest("3.80")  # turned on the arbor, not taken off
    assert hand.found == ["3.68"]
    hand.rest("4.20")
    assert hand.found == ["3.68", "4.20"]


def test_rest_that_is_slowly_left_is_not_the_extreme_of_the_next_sweep():
    hand = Hand()
    hand.rest("2.35")
    hand.measurand, hand.seek = "arbor", Seek.MINIMUM
    hand.rest("2.35")
    hand.show("2.36", "2.38", "2.41", "2.45", "2.50", "2.56", "2.63", "2.70", "2.80", "3.00")
    assert hand.found == ["2.35"]


def test_one_wrong_frame_at_rest_does_not_begin_the_next_sweep():
    hand = Hand()
    hand.rest("2.35")
    hand.measurand, hand.seek = "arbor", Seek.MINIMUM
    hand.show(*["2.35"] * 5, "2.50", *["2.35"] * 60)
    assert hand.found == ["2.35"]


def test_closed_jaws_make_every_rest_a_new_one():
    hand = Hand()
    hand.rest("5.00")
    hand.finder.leave()
    hand.measurand = "recess"
    hand.rest("5.00")
    assert hand.found == ["5.00", "5.00"]


def test_interruption_breaks_a_rest_but_is_no_movement():
    hand = Hand()
    hand.show(*["5.00"] * 10)
    hand.finder.interrupt()
    hand.show(*["5.00"] * 10)
    assert hand.found == []
    hand.rest("5.00")
    hand.finder.interrupt()
    hand.rest("5.00")
    assert hand.found == ["5.00"]
