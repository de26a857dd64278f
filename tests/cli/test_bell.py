"""What is heard: a rhythm for each signal, in turn and never run together, on stderr alone."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from cli_bench import reading

from gaugelink.capture.acts import Act, Completed, NotTaken, Repeated, Skipped, Taken, Undone
from gaugelink.capture.signals import Signal
from gaugelink.cli import bell
from gaugelink.cli.bell import LATE_S, LONG_S, REST_S, RHYTHMS, SHORT_S, Bell, try_sounds
from gaugelink.model import GaugeEvent, LinkChange

TOOK = Taken(gauge_id="g", elapsed_s=0.0, measurand="bore", reading=reading("11.52"))
ODD = Taken(gauge_id="g", elapsed_s=0.0, measurand="bore", reading=reading("11.52"), note="far")
REFUSAL = NotTaken(gauge_id="g", elapsed_s=0.0, reason="unlikely")
COMPLETED = Completed(gauge_id="g", measurand="bore", n_readings=5)
BACK = Undone(gauge_id="g", elapsed_s=0.0, measurand="bore")
LATE_BY_S = 0.1  # the loop comes by at least this often


class Clock:
    """A clock that stands until it is moved, or slept on."""

    now_s = 100.0

    def monotonic(self) -> float:
        return self.now_s

    def sleep(self, for_s: float) -> None:
        self.now_s += for_s


@pytest.fixture(name="clock")
def fake_clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(bell, "time", clock)
    return clock


class Ear:
    """Notes when the bell of a loop that comes by every ``step_s`` is struck."""

    def __init__(self, clock: Clock, capsys: pytest.CaptureFixture[str]) -> None:
        self._clock, self._capsys = clock, capsys
        self.strokes_s: list[float] = []

    def listen(self, struck: Bell, for_s: float, step_s: float = 0.01) -> None:
        for _ in range(round(for_s / step_s)):
            self.note()
            self._clock.now_s += step_s
            struck.strike()
        self.note()

    def note(self) -> None:
        out, err = self._capsys.readouterr()
        assert (out, err.strip("\a")) == ("", "")
        assert len(err) <= 1, "a terminal makes one stroke of two"
        self.strokes_s += [self._clock.now_s] * len(err)

    @property
    def gaps_s(self) -> list[float]:
        return [b - a for a, b in zip(self.strokes_s, self.strokes_s[1:], strict=False)]


@pytest.fixture(name="ear")
def listening(clock: Clock, capsys: pytest.CaptureFixture[str]) -> Ear:
    return Ear(clock, capsys)


def test_every_signal_that_is_heard_has_a_rhythm_of_its_own() -> None:
    assert set(RHYTHMS) == set(Signal) - {Signal.SKIPPED}
    assert len(set(RHYTHMS.values())) == len(RHYTHMS)
    # However late the loop comes by, a short gap is no long one, and a rest none of them.
    assert SHORT_S + LATE_BY_S < LONG_S
    assert LONG_S + LATE_BY_S < REST_S


@pytest.mark.parametrize(
    ("acts", "gaps_s"),
    [
        ([TOOK], []),
        ([TOOK, COMPLETED], [SHORT_S]),
        ([BACK], [LONG_S]),
        ([ODD], [SHORT_S, LONG_S]),
        ([REFUSAL], [SHORT_S, SHORT_S]),
        ([ODD, COMPLETED], [SHORT_S, LONG_S, REST_S, SHORT_S]),
    ],
)
@pytest.mark.parametrize("step_s", [0.01, LATE_BY_S])
def test_acts_are_heard_in_their_rhythm(
    ear: Ear, acts: list[Act], gaps_s: Sequence[float], step_s: float
) -> None:
    struck = Bell()
    struck.acted(acts)
    ear.listen(struck, 6.0, step_s)
    assert ear.gaps_s == [pytest.approx(gap_s, abs=step_s + 1e-6) for gap_s in gaps_s]
    assert len(ear.strokes_s) == len(gaps_s) + 1


@pytest.mark.parametrize(
    "act",
    [
        Repeated(gauge_id="g", elapsed_s=0.0, displayed="1"),
        Skipped(gauge_id="g", measurand="bore"),
    ],
)
def test_what_asks_for_nothing_is_silent(ear: Ear, act: Act) -> None:
    struck = Bell()
    struck.acted([act])
    ear.listen(struck, 2.0)
    assert ear.strokes_s == []


def test_two_gauges_at_once_are_heard_one_after_the_other(ear: Ear) -> None:
    struck = Bell()
    struck.acted([REFUSAL])  # three strokes and one were once heard as two: done
    struck.acted([TOOK])
    ear.listen(struck, 4.0)
    assert ear.gaps_s == [pytest.approx(s, abs=0.02) for s in (SHORT_S, SHORT_S, REST_S)]


def test_an_unplugged_gauge_is_heard_and_one_that_is_back_is_not(ear: Ear) -> None:
    struck = Bell()
    for connected, gaps_s in ((True, []), (False, [LONG_S, LONG_S])):
        body = LinkChange(connected=connected, text="")
        struck.heard(GaugeEvent(gauge_id="g", elapsed_s=0.0, body=body))
        ear.listen(struck, 3.0)
        assert ear.gaps_s == [pytest.approx(s, abs=0.02) for s in gaps_s]


def test_a_loop_that_hung_runs_no_strokes_together(clock: Clock, ear: Ear) -> None:
    struck = Bell()
    struck.acted([REFUSAL])
    ear.note()
    clock.now_s += 3.0
    struck.strike()
    ear.listen(struck, 1.0)
    assert len(ear.strokes_s) == 3
    assert ear.gaps_s[1] == pytest.approx(SHORT_S, abs=0.02)


def test_what_would_be_heard_late_is_left_out_whole(ear: Ear) -> None:
    struck = Bell()
    for _ in range(12):
        struck.acted([REFUSAL])
    ear.listen(struck, 30.0)
    assert len(ear.strokes_s) % 3 == 0
    assert ear.strokes_s[-1] - 100.0 <= LATE_S + 2 * SHORT_S + 0.05
    struck.acted([TOOK])
    ear.listen(struck, 1.0)
    assert len(ear.strokes_s) % 3 == 1


def test_the_end_of_a_job_is_heard_whole(clock: Clock, capsys: pytest.CaptureFixture[str]) -> None:
    struck = Bell()
    struck.acted([TOOK, COMPLETED])
    struck.play_out()
    assert capsys.readouterr() == ("", "\a\a")
    assert clock.now_s == pytest.approx(100.0 + SHORT_S)


def test_a_silent_bell_is_silent(clock: Clock, ear: Ear) -> None:
    struck = Bell(enabled=False)
    struck.acted([REFUSAL])
    ear.listen(struck, 3.0)
    struck.play_out()
    assert ear.strokes_s == []


def test_each_sound_is_tried_with_its_name(
    clock: Clock, capsys: pytest.CaptureFixture[str]
) -> None:
    try_sounds()
    heard = capsys.readouterr().err
    for line, gaps in zip(heard.splitlines()[1:], RHYTHMS.values(), strict=False):
        assert line.lstrip("\a ").count("*") == len(gaps) + 1
    assert heard.count("\a") == sum(len(gaps) + 1 for gaps in RHYTHMS.values())
    assert "taken back" in heard
