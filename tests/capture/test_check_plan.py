"""A gauge check on the lane of any job: several zeros, then known lengths, then a last zero."""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from capture_bench import reading

from gaugelink.capture.acts import ZERO, Act, GaugeDone, NotTaken, Taken
from gaugelink.capture.check_plan import CheckSession, length_name, make_check_plan
from gaugelink.capture.progress import Stage
from gaugelink.capture.session import CaptureSession
from gaugelink.errors import InputError
from gaugelink.model import GaugeEvent, GaugeInfo, GaugeKind, Seek, Sends


def gauge_of(kind: GaugeKind, sends: Sends) -> GaugeInfo:
    return GaugeInfo(
        gauge_id="gauge",
        kind=kind,
        sends=sends,
        address="sim:bench",
        format="invented",
        mpe_mm=0.02,
        shift_mpe_mm=0.02,
        mpe_source="invented",
    )


BUTTON = gauge_of(GaugeKind.CALIPER, Sends.BUTTON)
STREAM = gauge_of(GaugeKind.MICROMETER, Sends.STREAM)
PLAN = make_check_plan([("length", 5.0)], 2)


def hear(session: CaptureSession, frames: Iterable[tuple[float, str]]) -> list[Act]:
    acts = []
    for at_s, value in frames:
        event = GaugeEvent(gauge_id="gauge", elapsed_s=at_s, body=reading(value))
        acts += session.hear(event)
    return acts


def press(session: CaptureSession, *values: str, begin_s: float = 0.0) -> list[Act]:
    """Press the data button every five seconds, then wait."""
    acts = hear(session, [(begin_s + 5.0 * i, value) for i, value in enumerate(values)])
    return acts + session.tick("gauge", begin_s + 5.0 * len(values) + 10.0)


def rests(*values: str) -> list[tuple[float, str]]:
    """Rest on each value for 2 s, ten frames a second, well open in between for 1 s."""
    frames = []
    for i, value in enumerate(values):
        frames += [(5.0 * i + 0.1 * j, value) for j in range(20)]
        frames += [(5.0 * i + 2.0 + 0.1 * j, f"{9.0 + 0.1 * j:.2f}") for j in range(10)]
    return frames


def taken(acts: Iterable[Act]) -> list[tuple[str, str]]:
    return [(a.measurand, a.reading.displayed) for a in acts if isinstance(a, Taken)]


NAME = "length_5_mm"
ZEROS = [(ZERO, "0.00"), (ZERO, "0.01"), (ZERO, "0.00")]
LENGTHS = [(NAME, "5.00"), (NAME, "5.01")]


def test_a_button_takes_zeros_lengths_and_a_last_zero() -> None:
    session = CheckSession(PLAN, BUTTON, 3)
    acts = press(session, "0.00", "0.01", "0.00", "5.00", "5.01", "0.01")
    assert taken(acts) == [*ZEROS, *LENGTHS, (ZERO, "0.01")]
    assert isinstance(acts[-1], GaugeDone)
    assert session.is_closed


def test_a_stream_takes_the_same_when_the_faces_are_opened_in_between() -> None:
    session = CheckSession(PLAN, STREAM, 3)
    acts = hear(session, rests("0.00", "0.01", "0.00", "5.00", "5.01", "0.01"))
    acts += session.tick("gauge", 60.0)
    assert taken(acts) == [*ZEROS, *LENGTHS, (ZERO, "0.01")]
    assert session.is_closed


def test_faces_that_stay_closed_are_one_zero() -> None:
    session = CheckSession(PLAN, STREAM, 3)
    acts = hear(session, [(0.1 * i, "0.00") for i in range(200)])
    assert taken(acts) == [(ZERO, "0.00")]
    assert session.lanes["gauge"].progress.stage is Stage.OPENING


def test_a_length_is_not_read_before_all_zeros_are() -> None:
    session = CheckSession(PLAN, BUTTON, 2)
    acts = press(session, "0.00", "5.00", "0.00", "5.01")
    assert taken(acts) == [(ZERO, "0.00"), (ZERO, "0.00"), (NAME, "5.01")]
    (refused,) = (a for a in acts if isinstance(a, NotTaken))
    assert "close the jaws" in refused.reason


def test_one_zero_is_that_of_any_job() -> None:
    values = ("0.00", "5.00", "5.01", "0.01")
    ours, plain = CheckSession(PLAN, BUTTON, 1), CaptureSession(PLAN, [BUTTON])
    assert press(ours, *values) == press(plain, *values)
    assert ours.is_closed


def test_a_length_taken_back_asks_for_no_more_zeros() -> None:
    session = CheckSession(PLAN, BUTTON, 1)
    press(session, "0.00", "5.00")
    session.undo()
    assert session.lanes["gauge"].progress.stage is Stage.MEASURING
    assert taken(press(session, "5.01", begin_s=60.0)) == [(NAME, "5.01")]


def test_another_block_is_refused() -> None:
    for good in ("5.20", "4.80"):
        acts = press(CheckSession(PLAN, BUTTON, 1), "0.00", "5.21", "4.79", good)
        assert taken(acts) == [(ZERO, "0.00"), (NAME, good)]


def test_lengths_are_read_in_the_order_they_are_given() -> None:
    plan = make_check_plan([("length", mm) for mm in (10.0, 1.5, 0.1)], 7)
    assert [step.measurand for step in plan.steps] == [
        "length_10_mm",
        "length_1.5_mm",
        "length_0.1_mm",
    ]
    assert {(step.n_wanted, step.seek) for step in plan.steps} == {(7, Seek.SETTLED)}
    assert plan.steps[2].low_mm == pytest.approx(0.05)  # a thin one stays above closed faces


def test_a_name_keeps_what_tells_two_blocks_apart() -> None:
    assert length_name("length", 1.0005) == "length_1.0005_mm"
    assert length_name("length", 25.0) == "length_25_mm"


@pytest.mark.parametrize("kind", GaugeKind)
def test_either_kind_of_gauge_may_be_checked(kind: GaugeKind) -> None:
    session = CheckSession(PLAN, gauge_of(kind, Sends.BUTTON), 1)
    assert session.unserved == ()


@pytest.mark.parametrize(
    ("lengths_mm", "n_wanted"), [([], 10), ([5.0, 5.0], 10), ([5.0], 1), ([5.0], 101)]
)
def test_a_plan_that_cannot_be_is_refused(lengths_mm: list[float], n_wanted: int) -> None:
    with pytest.raises(InputError) as caught:
        make_check_plan([("length", mm) for mm in lengths_mm], n_wanted)
    assert caught.value.hint


@pytest.mark.parametrize("number", [2, 100])
def test_the_fewest_and_the_most_readings_are_taken(number: int) -> None:
    assert make_check_plan([("length", 5.0)], number).steps[0].n_wanted == number


@pytest.mark.parametrize("n_zeros", [1, 100])
def test_the_fewest_and_the_most_zeros_are_taken(n_zeros: int) -> None:
    session = CheckSession(PLAN, BUTTON, n_zeros)
    press(session, *["0.00"] * n_zeros)
    assert session.lanes["gauge"].progress.stage is Stage.MEASURING


@pytest.mark.parametrize("n_zeros", [0, -1, 101])
def test_a_number_of_zeros_that_cannot_be_is_refused(n_zeros: int) -> None:
    with pytest.raises(InputError, match="zeros"):
        CheckSession(PLAN, BUTTON, n_zeros)
