"""What is heard is kept, then acknowledged; a sitting ends in one of three ways."""

from __future__ import annotations

import threading

import pytest
from capture_bench import DEPTH, LID, MICROMETER, STREAMING, gauge, reading
from played_sources import Failing, Played, Silent, heard, listen_in_turn
from runner_bench import CONSOLE, ID, NOISE, PRESSES, Log, event, names, one_depth, run, typed

from gaugelink.capture import runner as runner_module
from gaugelink.capture.plan import Plan
from gaugelink.capture.runner import COMMIT_S, Finish, Polled, Runner, listen_in_threads
from gaugelink.capture.session import CaptureSession
from gaugelink.errors import GaugeDisconnected, JournalFull
from gaugelink.model import GaugeEvent


def test_event_and_acts_are_durable_before_anybody_is_told():
    log = Log()
    run([heard(event(1.0, "0.00"))], log)
    assert log.calls == [
        "write Reading",
        "write Taken",
        "commit",
        "acted Taken",
        "heard Reading",
        "commit",
    ]


@pytest.mark.parametrize("fails_at", ["write Reading", "write Taken", "commit"])
def test_what_cannot_be_kept_is_not_acknowledged(fails_at):
    log = Log(fails_at)
    with pytest.raises(JournalFull):
        run([heard(event(1.0, "0.00"))], log)
    assert log.calls[-1].startswith(fails_at)
    assert not any(call.startswith(("acted", "heard")) for call in log.calls)


def test_event_that_cannot_be_kept_changes_nothing():
    session = one_depth()
    with pytest.raises(JournalFull):
        run([heard(event(1.0, "0.00"))], Log("write Reading"), session)
    assert session.lanes[ID].progress.standing("zero") == ()


def test_whole_job_from_played_sources_is_closed():
    log = Log()
    source = Played(ID, [*PRESSES, (30.0, reading("9.00"))])
    finish, session = run(listen_in_turn([source]), log)
    assert finish is Finish.CLOSED
    assert names(log.acts) == [*("Taken", "Taken", "Taken", "Completed", "Taken", "GaugeDone")]
    assert session.is_closed


def test_job_whose_source_ends_with_the_closing_zero_is_closed():
    finish, session = run(listen_in_turn([Played(ID, PRESSES)]), Log())
    assert (finish, session.is_closed) == (Finish.CLOSED, True)


def test_source_that_ends_early_leaves_the_job_open():
    log = Log()
    finish, session = run(listen_in_turn([Played(ID, PRESSES[:2])]), log)
    assert (finish, session.is_closed) == (Finish.ENDED, False)
    assert log.calls[-1] == "commit"


def test_job_goes_on_while_one_of_two_gauges_is_left():
    log = Log()
    session = CaptureSession(Plan(steps=(DEPTH, LID)), [gauge(), MICROMETER])
    lid = [(n * 50.0, reading(value)) for n, value in enumerate(("0.000", "0.41", "0.42"))]
    sources = [Played(ID, PRESSES[:1]), Played(MICROMETER.gauge_id, lid)]
    assert run(listen_in_turn(sources), log, session)[0] is Finish.ENDED
    assert names(log.acts) == ["Taken"] * 4 + ["Completed"]


def test_stop_ends_the_sitting_and_is_kept():
    log = Log()
    later = heard(event(9.0, "2.31"))
    finish, _ = run([heard(event(1.0, "0.00")), heard(typed(b"q\n")), later], log)
    assert finish is Finish.STOPPED
    assert names(log.kept) == ["Reading", "Taken", "Fault"]


def test_stop_gives_a_closing_zero_that_was_seen():
    presses = [heard(event(at_s, body)) for at_s, body in PRESSES]
    finish, _ = run([*presses, heard(typed(b"q\n"))], Log())
    assert finish is Finish.CLOSED


def test_undo_and_skip_come_from_the_console():
    log = Log()
    items = [
        heard(event(1.0, "0.00")),
        heard(event(2.0, "2.31")),
        heard(typed(b"u\n")),
        heard(typed(b"s\n")),
    ]
    run(items, log)
    assert names(log.acts) == ["Taken", "Taken", "Undone", "Skipped"]
    assert log.acts[2].elapsed_s == 2.0  # on the clock of the gauge, not of the console


def test_what_else_is_typed_at_the_console_is_passed_over():
    log = Log()
    run([heard(typed(b"hello\n")), heard(event(1.0, "5.00", CONSOLE))], log)
    assert log.kept == []


def test_end_of_the_console_is_not_the_end_of_the_job():
    log = Log()
    closed = Polled(gauge_id=CONSOLE, events=(), now_s=0.0, ended=True)
    run([closed, heard(event(1.0, "0.00"))], log)
    assert names(log.acts) == ["Taken"]


@pytest.mark.parametrize(
    ("address", "finish"), [("serial:COM7", Finish.ENDED), ("keys:", Finish.STOPPED)]
)
def test_noise_on_a_cable_is_no_command_but_a_typed_key_is(address, finish):
    log = Log()
    session = CaptureSession(Plan(steps=(DEPTH,)), [gauge(address=address)])
    assert run([heard(typed(b"q\r", ID))], log, session)[0] is finish
    assert names(log.kept) == ["Fault"]


def test_stream_is_committed_at_intervals(monkeypatch):
    now_s = [100.0]
    monkeypatch.setattr(runner_module.time, "monotonic", lambda: now_s[0])
    log = Log()
    session = CaptureSession(Plan(steps=(DEPTH,)), [STREAMING])

    def moving():
        for n in range(20):
            now_s[0] += COMMIT_S / 4
            yield heard(event(n / 16, f"{5 + n / 2:.2f}"))

    run(moving(), log, session)
    n_at_once = [len(chunk.split("write")) - 1 for chunk in " ".join(log.calls).split("commit")]
    assert sum(n_at_once) == 20
    assert max(n_at_once) == 5


def test_silence_is_a_chance_to_redraw_and_to_commit(monkeypatch):
    now_s = [0.0]
    monkeypatch.setattr(runner_module.time, "monotonic", lambda: now_s[0])
    log = Log()
    quiet = Polled(gauge_id=ID, events=(), now_s=2.0)

    def slowly():
        yield heard(event(1.0, NOISE))
        now_s[0] = COMMIT_S
        yield None
        yield quiet

    run(slowly(), log)
    assert log.calls == ["write Fault", "heard Fault", "idle", "commit", "idle", "commit"]


def test_error_in_a_thread_is_raised_and_what_came_before_is_kept():
    log = Log()
    source = Failing(ID, event(1.0, "0.00"), GaugeDisconnected("gone"))
    with pytest.raises(GaugeDisconnected), listen_in_threads([source]) as items:
        run(items, log)
    assert names(log.kept) == ["Reading", "Taken"]


def test_error_in_a_thread_keeps_what_was_not_acknowledged():
    log = Log()
    lost = Polled(gauge_id=ID, events=(), now_s=0.0, error=GaugeDisconnected("gone"))
    noise = event(1.0, NOISE)
    with pytest.raises(GaugeDisconnected):
        run([heard(noise), lost], log)
    assert log.kept == [noise]


def test_interrupt_ends_the_threads_and_acknowledges_nothing_unkept():
    class Interrupted(Log):
        def heard(self, event: GaugeEvent) -> None:
            raise KeyboardInterrupt

    log = Interrupted()
    before = threading.active_count()
    source = Played(ID, [(1.0, reading("0.00"))])
    with pytest.raises(KeyboardInterrupt), listen_in_threads([source, Silent("x")]) as items:
        run(items, log)
    assert threading.active_count() == before
    assert names(log.kept) == ["Reading", "Taken"]


def test_what_was_heard_before_a_stop_is_acted_on_and_the_stop_is_the_end():
    log = Log()
    items = [heard(event(1.0, "0.00")), heard(event(5.0, "2.31"))]
    assert Runner(one_depth(), log, log).run(items, lambda: True) is Finish.STOPPED
    assert names(log.kept) == ["Reading", "Taken", "Reading", "Taken"]


def test_closing_zero_that_was_seen_before_a_stop_is_given():
    log = Log()
    items = [heard(event(at_s, body)) for at_s, body in PRESSES]
    assert Runner(one_depth(), log, log).run(items, lambda: True) is Finish.CLOSED
    assert names(log.acts)[-1] == "GaugeDone"


def test_job_that_is_closed_already_ends_at_once():
    session = one_depth()
    log = Log()
    run(listen_in_turn([Played(ID, PRESSES)]), log, session)
    assert run([None, heard(event(99.0, "5.00"))], log, session)[0] is Finish.CLOSED
