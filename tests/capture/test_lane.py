"""A gauge that sends on its button, through all stages of its part of the job."""

from __future__ import annotations

from dataclasses import replace

import pytest
from capture_bench import (
    CALIPER,
    DEPTH,
    LID,
    THICKNESS,
    Bench,
    kinds,
    reading,
    refusals,
    taken,
)

from gaugelink.capture.acts import ZERO, Completed, MoreWanted, Taken
from gaugelink.capture.progress import Review, Stage
from gaugelink.model import Fault, FaultKind, Flag, Ident, Series

OPEN_TEXT = "First close the jaws for the zero reading; if they are closed, set the gauge to zero."
CLOSE_TEXT = "Everything is measured. Close the jaws for the last zero reading, or q and --close."


def test_whole_job_from_zero_to_zero():
    bench = Bench(DEPTH, LID)
    for value in ("0.01", "2.31", "2.32", "0.41", "0.41"):
        bench.press(value)
    assert bench.press("0.00") == []
    assert bench.wait(3.0) == []
    bench.wait(0.1)
    assert kinds(bench.acts) == [
        *("Taken", "Taken", "Taken", "Completed", "Taken", "Taken", "Completed"),
        *("Taken", "GaugeDone"),
    ]
    assert taken(bench.acts) == ["0.01", "2.31", "2.32", "0.41", "0.41", "0.00"]
    assert bench.standing(ZERO) == ["0.01", "0.00"]
    assert bench.session.is_closed


def test_readings_wait_for_the_opening_zero():
    bench = Bench(DEPTH)
    acts = bench.press("2.31")
    assert refusals(acts) == [OPEN_TEXT]
    assert acts[0].displayed == "2.31"
    assert bench.lane.progress.stage is Stage.OPENING


@pytest.mark.parametrize(("value", "stage"), [("0.10", Stage.MEASURING), ("0.11", Stage.OPENING)])
def test_zero_far_off_is_refused(value, stage):
    bench = Bench(DEPTH)
    acts = bench.press(value)
    assert refusals(acts) == ([] if stage is Stage.MEASURING else [OPEN_TEXT])
    assert bench.lane.progress.stage is stage


def test_implausible_reading_is_refused_and_the_step_goes_on():
    bench = Bench(DEPTH)
    bench.press("0.00")
    assert refusals(bench.press("23.10")) == [
        "23.10 mm is not a likely depth (0.5 to 9 mm). Check the unit and the jaws."
    ]
    assert bench.standing("depth") == []
    assert taken(bench.press("2.31")) == ["2.31"]


def test_far_reading_is_taken_the_second_time_with_a_note():
    bench = Bench(replace(THICKNESS, n_wanted=3))
    for value in ("0.000", "0.120", "0.121"):
        bench.press(value)
    assert refusals(bench.press("0.150")) == [
        "0.150 mm is +0.029 mm from what came before. Read it again; the same once more is taken."
    ]
    far, done = bench.press("0.151")
    assert isinstance(far, Taken)
    assert far.note == "+0.030 mm from the others. Close the jaws twice to take it back."
    assert done.n_readings == 3


def test_double_send_counts_once():
    bench = Bench(DEPTH)
    bench.press("0.00")
    bench.press("2.31")
    assert kinds(bench.press("2.31", wait_s=0.2)) == ["Repeated"]
    assert bench.standing("depth") == ["2.31"]


def test_display_on_hold_is_taken_from_a_button_with_a_note():
    bench = Bench(DEPTH)
    bench.press("0.00")
    (act,) = bench.send(reading("2.31", flags=[Flag.HELD]))
    assert isinstance(act, Taken)
    assert act.note == "The display is on hold."


def test_completion_says_how_many_readings():
    bench = Bench(DEPTH)
    for value in ("0.00", "2.31"):
        bench.press(value)
    done = bench.press("2.33")[-1]
    assert done == Completed(gauge_id=CALIPER.gauge_id, measurand="depth", n_readings=2)


class OnceMore:
    """A reviewer that is satisfied with a series of ``n_enough``."""

    def __init__(self, n_enough: int) -> None:
        self.n_enough = n_enough
        self.seen: list[Series] = []

    def __call__(self, series: Series) -> Review | None:
        self.seen.append(series)
        short = self.n_enough - len(series.readings)
        return Review(n_more=short, reason="They differ.") if short > 0 else None


def test_review_asks_for_more_readings():
    review = OnceMore(4)
    bench = Bench(DEPTH, LID, review=review)
    for value in ("0.00", "2.31"):
        bench.press(value)
    more = bench.press("2.39")[-1]
    assert more == MoreWanted(
        gauge_id=CALIPER.gauge_id, measurand="depth", wanted=4, reason="They differ."
    )
    assert bench.lane.progress.current is DEPTH
    assert kinds(bench.press("2.35")) == ["Taken"]
    assert kinds(bench.press("2.36")) == ["Taken", "Completed"]
    assert bench.lane.progress.current is LID
    assert [len(series.readings) for series in review.seen] == [2, 4]
    assert review.seen[-1].measurand == "depth"


def test_undo_of_the_reading_that_raised_the_question_drops_the_question():
    bench = Bench(DEPTH, review=OnceMore(4))
    for value in ("0.00", "2.31", "2.39"):
        bench.press(value)
    assert bench.lane.progress.wanted("depth") == 4
    bench.undo()
    assert bench.lane.progress.wanted("depth") == 2


def test_undo_of_an_extra_reading_keeps_the_question():
    bench = Bench(DEPTH, review=OnceMore(4))
    for value in ("0.00", "2.31", "2.39", "2.35"):
        bench.press(value)
    bench.undo()
    assert bench.lane.progress.wanted("depth") == 4
    assert bench.standing("depth") == ["2.31", "2.39"]


def test_review_that_asks_for_nothing_is_said_after_completion():
    text = "More would not help."
    bench = Bench(DEPTH, LID, review=lambda series: Review(n_more=0, reason=text))
    for value in ("0.00", "2.31"):
        bench.press(value)
    acts = bench.press("2.33")
    assert kinds(acts) == ["Taken", "Completed", "MoreWanted"]
    assert acts[-1] == MoreWanted(
        gauge_id=CALIPER.gauge_id, measurand="depth", wanted=2, reason=text
    )
    assert bench.lane.progress.current is LID


def test_review_is_not_asked_before_the_planned_readings_are_there():
    review = OnceMore(4)
    bench = Bench(DEPTH, review=review)
    for value in ("0.00", "2.31"):
        bench.press(value)
    assert review.seen == []


@pytest.mark.parametrize(("n_more", "reason"), [(-1, "They differ."), (1, ""), (0, "")])
def test_review_has_a_number_and_a_reason(n_more, reason):
    with pytest.raises(ValueError, match="0 or more readings and a reason"):
        Review(n_more=n_more, reason=reason)


def measured() -> Bench:
    bench = Bench(DEPTH)
    for value in ("0.00", "2.31", "2.31"):
        bench.press(value)
    return bench


def test_closing_zero_far_off_is_refused():
    bench = measured()
    (said,) = refusals(bench.press("0.11"))
    assert said.startswith("0.11 mm is too far from the zero before.")
    assert refusals(bench.press("2.31")) == [CLOSE_TEXT]
    assert bench.lane.progress.stage is Stage.CLOSING


def test_sixth_place_on_a_thin_spring_is_no_closing_zero():
    bench = Bench(THICKNESS)
    for value in ("0.000", "0.080", "0.081"):
        bench.press(value)
    assert refusals(bench.press("0.079")) == [CLOSE_TEXT]
    assert not bench.lane.is_closing


def test_closing_zero_is_seen_at_once_and_given_after_the_double_close_window():
    bench = measured()
    bench.press("0.02")
    assert bench.lane.is_closing
    assert bench.wait(3.0) == []
    acts = bench.wait(0.01)
    assert kinds(acts) == ["Taken", "GaugeDone"]
    assert acts[0].elapsed_s == bench.now_s - 3.01  # when the jaws were closed
    assert not bench.lane.is_closing


def test_jaws_closed_better_within_the_window_give_the_better_zero():
    bench = measured()
    bench.press("0.08")
    bench.press("0.01")
    assert taken(bench.wait(3.1)) == ["0.01"]


def test_late_event_gives_the_closing_zero_without_any_tick():
    bench = measured()
    bench.press("0.02")
    assert kinds(bench.press("0.01", wait_s=3.5)) == ["Taken", "GaugeDone"]
    assert bench.standing(ZERO) == ["0.00", "0.02"]


def test_gauge_that_is_done_is_not_listened_to():
    bench = measured()
    bench.press("0.00")
    bench.wait(4.0)
    assert bench.press("2.31") == []
    assert bench.wait(10.0) == []


@pytest.mark.parametrize(
    "body",
    [
        Fault(kind=FaultKind.UNPARSED, reason="noise", raw=b"\xff"),
        Ident(text="invented caliper", raw=b"invented caliper\r"),
    ],
)
def test_what_is_no_reading_changes_nothing(body):
    bench = measured()
    assert bench.send(body) == []
    assert bench.lane.progress.stage is Stage.CLOSING


def test_skip_leaves_a_measurand_at_what_it_has():
    bench = Bench(DEPTH, LID)
    for value in ("0.00", "2.31"):
        bench.press(value)
    assert kinds(bench.skip()) == ["Skipped"]
    assert bench.lane.progress.current is LID
    assert bench.standing("depth") == ["2.31"]
    assert kinds(bench.skip()) == ["Skipped"]
    assert bench.lane.progress.stage is Stage.CLOSING


@pytest.mark.parametrize("presses", [[], ["0.00", "2.31", "2.31"]])
def test_skip_says_when_there_is_nothing_to_skip(presses):
    bench = Bench(DEPTH)
    for value in presses:
        bench.press(value)
    assert refusals(bench.skip()) == ["Nothing to skip now."]
