"""What is heard: strokes by act, spread over time, on stderr alone."""

from __future__ import annotations

import pytest
from cli_bench import reading

from gaugelink.capture.acts import (
    Act,
    Completed,
    GaugeDone,
    Halted,
    MoreWanted,
    NotTaken,
    Repeated,
    Skipped,
    Taken,
    Undone,
)
from gaugelink.cli import talk
from gaugelink.cli.talk import DONE, REFUSED, STROKE_S, TAKEN, Bell, strokes_for

TOOK = Taken(gauge_id="g", elapsed_s=0.0, measurand="bore", reading=reading("11.52"))
REFUSAL = NotTaken(gauge_id="g", elapsed_s=0.0, reason="unlikely")
COMPLETED = Completed(gauge_id="g", measurand="bore", n_readings=5)


class Clock:
    now_s = 100.0

    def monotonic(self) -> float:
        return self.now_s


@pytest.fixture(name="clock")
def fake_clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(talk, "time", clock)
    return clock


@pytest.mark.parametrize(
    ("acts", "strokes"),
    [
        ([], 0),
        ([TOOK], TAKEN),
        ([TOOK, COMPLETED], DONE),
        ([TOOK, MoreWanted(gauge_id="g", measurand="bore", wanted=7, reason="wide")], TAKEN),
        ([GaugeDone(gauge_id="g")], DONE),
        ([Undone(gauge_id="g", elapsed_s=0.0, measurand="bore")], DONE),
        ([REFUSAL], REFUSED),
        ([TOOK, REFUSAL], REFUSED),
        ([Halted(gauge_id="g", reason="inch")], REFUSED),
        ([Repeated(gauge_id="g", elapsed_s=0.0, displayed="1")], 0),
        ([Skipped(gauge_id="g", measurand="bore")], 0),
    ],
)
def test_acts_are_worth_strokes(acts: list[Act], strokes: int) -> None:
    assert strokes_for(acts) == strokes


def test_the_three_signals_differ() -> None:
    assert len({0, TAKEN, DONE, REFUSED}) == 4


def test_strokes_are_spread_over_time(clock: Clock, capsys: pytest.CaptureFixture[str]) -> None:
    struck = Bell()
    struck.ring(3)
    heard = [capsys.readouterr().err]
    for _ in range(12):
        clock.now_s += STROKE_S / 3 + 1e-6
        struck.strike()
        heard.append(capsys.readouterr().err)
    assert [i for i, sound in enumerate(heard) if sound == "\a"] == [0, 3, 6]
    assert set(heard) == {"", "\a"}


def test_a_new_ring_drops_what_was_due(clock: Clock, capsys: pytest.CaptureFixture[str]) -> None:
    struck = Bell()
    struck.ring(3)
    struck.ring(1)
    clock.now_s += 10.0
    struck.strike()
    assert capsys.readouterr() == ("", "\a\a")


def test_a_silent_bell_is_silent(clock: Clock, capsys: pytest.CaptureFixture[str]) -> None:
    struck = Bell(enabled=False)
    struck.ring(2)
    clock.now_s += 10.0
    struck.strike()
    assert capsys.readouterr() == ("", "")
