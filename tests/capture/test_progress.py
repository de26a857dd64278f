"""How far a gauge has come is the fold of its acts, and of nothing else."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from capture_bench import (
    BORE,
    CALIPER,
    DEPTH,
    LID,
    MICROMETER,
    STREAMING,
    Bench,
    reading,
    state,
)

from gaugelink.capture.acts import MoreWanted, Taken, Undone
from gaugelink.capture.progress import Progress, Review, Stage
from gaugelink.capture.session import CaptureSession
from gaugelink.model import Series, UnitSwitch
from gaugelink.units import LengthUnit


def once_more(series: Series) -> Review | None:
    return Review(n_more=1, reason="They differ.") if len(series.readings) < 3 else None


def button_job() -> Bench:
    """Everything that can happen to two gauges with buttons, from zero to zero."""
    bench = Bench(DEPTH, LID, BORE, gauges=(CALIPER, MICROMETER), review=once_more)
    bench.press("9.00")  # refused
    for gauge_id in ("", "micrometer"):
        bench.press("0.00", gauge_id=gauge_id)
    bench.press("2.31")
    bench.press("0.41", gauge_id="micrometer")
    bench.press("0.41", wait_s=0.1, gauge_id="micrometer")  # double send
    bench.press("0.00")
    bench.press("0.00")  # undo by closing twice
    for value in ("2.31", "2.33", "2.40", "55.00"):
        bench.press(value)
    bench.undo()
    bench.press("2.35")
    bench.send(UnitSwitch(before=LengthUnit.MM, now=LengthUnit.INCH, raw=b""))
    bench.press("11.02")
    bench.skip()
    bench.undo()
    bench.skip()
    for value in ("0.42", "0.43", "0.00"):
        bench.press(value, gauge_id="micrometer")
    bench.press("0.01")
    bench.wait(4.0)
    bench.acts += bench.session.tick("micrometer", bench.now_s)
    return bench


def streamed_job() -> Bench:
    bench = Bench(DEPTH, LID, gauges=(STREAMING,), review=once_more)
    for value in ("0.00", "2.31", "12.00", "2.33", "12.00", "2.35", "3.00", "0.00", "3.00"):
        bench.rest(value)
    bench.rest("0.00", 0.3)
    for value in ("2.34", "0.41", "1.00", "0.00", "0.42"):
        bench.rest(value)
    bench.undo()
    bench.skip()
    bench.rest("3.00")
    bench.rest("0.01", 5.0)
    return bench


JOBS = pytest.mark.parametrize("play", [button_job, streamed_job])


def states_of(session: CaptureSession) -> dict[str, dict[str, object]]:
    return {gauge_id: state(lane.progress) for gauge_id, lane in session.lanes.items()}


@JOBS
def test_job_played_here_is_a_full_one(play: Callable[[], Bench]):
    bench = play()
    assert bench.session.is_closed
    assert {"Taken", "Undone", "MoreWanted", "Completed", "Skipped", "GaugeDone", "NotTaken"} <= {
        type(act).__name__ for act in bench.acts
    }


@JOBS
def test_reopened_job_stands_where_it_was_left_at_every_act(play, monkeypatch):
    """The state after each act, noted while it was lived, is that of the acts so far."""
    lived: list[tuple[str, dict[str, object]]] = []
    apply = Progress.apply

    def noting(self: Progress, act) -> None:
        apply(self, act)
        lived.append((act.gauge_id, state(self)))

    monkeypatch.setattr(Progress, "apply", noting)
    bench = play()
    monkeypatch.setattr(Progress, "apply", apply)
    assert len(lived) == len(bench.acts)
    gauges = [lane.info for lane in bench.session.lanes.values()]
    for n, (gauge_id, state_then) in enumerate(lived, start=1):
        folded = Progress(bench.session.lanes[gauge_id].progress.steps)
        for act in bench.acts[:n]:
            if act.gauge_id == gauge_id:
                folded.apply(act)
        assert state(folded) == state_then
        reopened = CaptureSession(bench.session.plan, gauges)
        reopened.restore(bench.acts[:n])
        folded.reopen()
        assert state(reopened.lanes[gauge_id].progress) == state(folded)


@JOBS
def test_continued_job_ends_as_if_it_had_not_been_left(play: Callable[[], Bench]):
    bench = play()
    again = CaptureSession(bench.session.plan, [ln.info for ln in bench.session.lanes.values()])
    again.restore(bench.acts)
    assert states_of(again) == states_of(bench.session)
    assert again.is_closed


@JOBS
def test_undo_order_survives_reopening(play: Callable[[], Bench]):
    bench = play()
    gauges = [lane.info for lane in bench.session.lanes.values()]
    for n in range(1, len(bench.acts)):
        live, reopened = (CaptureSession(bench.session.plan, gauges) for _ in range(2))
        reopened.restore(bench.acts[:n])
        live.restore(())
        for act in bench.acts[:n]:
            live.lanes[act.gauge_id].restore(act)
            live._note([act])
        for _ in range(4):
            assert [_what(act) for act in live.undo()] == [_what(act) for act in reopened.undo()]


def _what(act):
    return type(act), act.gauge_id, getattr(act, "measurand", "")


@pytest.mark.parametrize("interrupted_after", [0, 1])
def test_closing_zero_without_its_second_act_is_asked_for_again(interrupted_after):
    bench = Bench(DEPTH)
    for value in ("0.00", "2.31", "2.31", "0.01"):
        bench.press(value)
    bench.wait(4.0)
    again = Bench(DEPTH, acts=bench.acts[: len(bench.acts) - 2 + interrupted_after])
    assert again.lane.progress.stage is Stage.OPENING
    again.press("0.00")
    assert again.lane.progress.stage is Stage.CLOSING


def _taken(value: str, measurand: str = "depth") -> Taken:
    return Taken(gauge_id="", elapsed_s=0.0, measurand=measurand, reading=reading(value))


def test_acts_about_what_is_not_planned_do_no_harm():
    progress = Progress([DEPTH])
    for act in (
        _taken("0.41", "lid"),
        MoreWanted(gauge_id="", measurand="lid", wanted=4, reason=""),
        Undone(gauge_id="", elapsed_s=0.0, measurand="lid"),
    ):
        progress.apply(act)
    assert progress.standing("lid") == ()
    assert progress.current is DEPTH


def test_readings_are_all_that_stand_but_the_zeros():
    progress = Progress([DEPTH, LID])
    for act in (_taken("0.00", "zero"), _taken("2.31"), _taken("0.41", "lid")):
        progress.apply(act)
    assert [r.displayed for r in progress.readings] == ["2.31", "0.41"]


def test_first_unit_holds():
    progress = Progress([DEPTH])
    assert progress.unit is None
    progress.apply(_taken("0.00", "zero"))
    assert progress.unit is LengthUnit.MM
