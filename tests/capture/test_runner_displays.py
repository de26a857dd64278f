"""Displays beside the screen: they may fail, and their commands may come too late."""

from __future__ import annotations

import pytest
from played_sources import heard
from runner_bench import CONSOLE, Log, event, names, one_depth, run

from gaugelink.capture.acts import NotTaken
from gaugelink.capture.commands import Command, DisplayKeys
from gaugelink.capture.runner import FanOut, Finish, Polled, Runner

ZERO_AND_DEPTH = [heard(event(1.0, "0.00")), heard(event(6.0, "2.31"))]


class Broken(Log):
    """A display that raises when it is first told so."""

    def _note(self, call: str) -> None:
        super()._note(call)
        if call.startswith(self.at):
            raise self.error

    at = "acted"
    error: BaseException = OSError("the port is gone")


def asked_for(command: Command, about: int | None) -> Polled:
    keys = DisplayKeys()
    keys.put(command, about)
    return heard(*keys.poll(0.0))


def ordered(items: list[Polled], about: int | None, command: Command = Command.UNDO) -> tuple:
    session, log = one_depth(), Log()
    runner = Runner(session, log, log, [CONSOLE, DisplayKeys().gauge_id])
    return runner.run([*items, asked_for(command, about)]), session, log


@pytest.mark.parametrize("at", ["acted", "heard", "idle"])
def test_measuring_goes_on_when_a_display_raises(at):
    log, other, broken, said = Log(), Log(), Broken(), []
    broken.at = at
    for display in (other, broken):
        display.acted = lambda acts, d=display: d._note("acted " + " ".join(names(acts)))
    fan = FanOut(log, [broken, other], said.append)
    Runner(one_depth(), log, fan).run([None, *ZERO_AND_DEPTH, None])
    assert [call for call in log.calls if call.startswith("acted")] == ["acted Taken"] * 2
    assert other.calls == [call for call in log.calls if not call.startswith(("write", "commit"))]
    assert broken.calls[-1].startswith(at)  # nothing more is told to it
    assert said == [
        "The display failed and is switched off (OSError: the port is gone); measuring goes on."
    ]


def test_a_screen_that_raises_and_ctrl_c_end_the_sitting():
    log, first, display = Log(), Broken(), Broken()
    first.at = display.at = "heard"
    display.acted = lambda acts: None
    with pytest.raises(OSError, match="gone"):
        Runner(one_depth(), first, FanOut(first, [], print)).run(ZERO_AND_DEPTH)
    display.error = KeyboardInterrupt()
    with pytest.raises(KeyboardInterrupt):
        Runner(one_depth(), log, FanOut(log, [display], print)).run(ZERO_AND_DEPTH)


def test_a_command_about_what_stands_is_obeyed_and_kept():
    _, session = run(ZERO_AND_DEPTH, Log())
    _, session, log = ordered(ZERO_AND_DEPTH, session.about)
    assert names(log.acts)[-1] == "Undone"
    assert b"u@" in [
        getattr(each.body, "raw", b"")[:2] for each in log.kept if hasattr(each, "body")
    ]


@pytest.mark.parametrize("command", Command)
def test_a_command_that_came_too_late_changes_nothing_and_is_told(command):
    finish, session, log = ordered(ZERO_AND_DEPTH, 0, command)
    assert finish is Finish.ENDED
    assert isinstance(log.acts[-1], NotTaken)
    assert "too late" in log.acts[-1].reason
    assert len(session.lanes["caliper"].progress.standing("depth")) == 1


def test_two_taps_on_one_sight_take_back_one_reading():
    _, session = run(ZERO_AND_DEPTH, Log())
    twice = [*ZERO_AND_DEPTH, asked_for(Command.UNDO, session.about)]
    _, _, log = ordered(twice, session.about)
    assert names(log.acts)[-2:] == ["Undone", "NotTaken"]


def test_a_keyboard_says_nothing_of_what_it_saw_and_is_obeyed():
    _, _, log = ordered(ZERO_AND_DEPTH, None)
    assert names(log.acts)[-1] == "Undone"
