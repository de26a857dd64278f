"""Replays: the recorded times exactly, however fast, and twice the same."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from gaugelink.devices.contract import VirtualClock
from gaugelink.devices.recordings.recording import EntryKind, RecordedEntry, read_recording
from gaugelink.devices.recordings.replay import ReplayTransport
from gaugelink.devices.registry import open_gauge
from gaugelink.errors import GaugeDisconnected, GaugeNotFound, InputError, RecordingError
from gaugelink.model import Fault, GaugeEvent, LinkChange, Reading

RECORDINGS = Path(__file__).parents[3] / "fixtures" / "recordings"


def received(t_s: float, data: bytes) -> RecordedEntry:
    return RecordedEntry(t_s=t_s, kind=EntryKind.RECEIVED, data=data)


def replay_all(address: str, timeout_s: float = 0.05) -> list[GaugeEvent]:
    events: list[GaugeEvent] = []
    with open_gauge(address) as gauge:
        while not gauge.ended:
            events += gauge.poll(timeout_s)
    return events


def test_stamps_are_the_recorded_times_whatever_the_timeout() -> None:
    path = RECORDINGS / "bench-caliper.jsonl"
    recorded = [entry.t_s for entry in read_recording(path).entries]
    for timeout_s in (0.0125, 0.05, 7.0):
        events = replay_all(f"replay:{path}", timeout_s)
        assert [event.elapsed_s for event in events] == recorded
        assert {type(event.body) for event in events} == {Reading}


@pytest.mark.parametrize("path", sorted(RECORDINGS.glob("*.jsonl")), ids=lambda path: path.stem)
def test_two_replays_are_equal(path: Path) -> None:
    first = replay_all(f"replay:{path}")
    assert first == replay_all(f"replay:{path}")
    assert first


def test_a_replay_gives_what_the_recorded_gauge_gave() -> None:
    simulated = replay_all("sim:caliper?seed=1&pace=0&glitches=0.03&dropouts=0.03")
    replayed = replay_all(f"replay:{RECORDINGS / 'bench-caliper-faults.jsonl'}")
    without_text = [event.body for event in simulated if not isinstance(event.body, LinkChange)]
    assert without_text == [
        event.body for event in replayed if not isinstance(event.body, LinkChange)
    ]
    assert [event.elapsed_s for event in simulated] == [event.elapsed_s for event in replayed]
    links = [event.body.connected for event in replayed if isinstance(event.body, LinkChange)]
    assert links == [False, True, False, True]


def test_sent_bytes_are_passed_over() -> None:
    bodies = [event.body for event in replay_all(f"replay:{RECORDINGS / 'request-answer.jsonl'}")]
    assert [type(body) for body in bodies] == [Reading, Reading, Fault]
    assert [body.displayed for body in bodies if isinstance(body, Reading)] == ["2.1380", "2.1390"]


def test_the_committed_recordings_can_be_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(str(RECORDINGS))
    import make_recordings  # type: ignore[import-not-found,unused-ignore]

    make_recordings.make_all(tmp_path)
    monkeypatch.delitem(sys.modules, "make_recordings")
    made = {path.name: path.read_bytes() for path in tmp_path.glob("*.jsonl")}
    assert made == {path.name: path.read_bytes() for path in RECORDINGS.glob("*.jsonl")}


def test_silence_lasts_as_long_as_the_clock_says() -> None:
    clock = VirtualClock()
    replay = ReplayTransport([received(1.0, b"abc")], address="replay:x", clock=clock)
    replay.open()
    assert replay.read(64, 0.75) == b""
    assert clock.now_s() == 0.75
    assert replay.read(2, 0.75) == b"ab"
    assert clock.now_s() == 1.0
    assert not replay.ended
    assert replay.read(2, 0.75) == b"c"
    assert replay.ended
    assert replay.read(2, 0.5) == b""
    assert clock.now_s() == 1.5


def test_a_lost_link_is_played_and_cannot_be_opened_before_its_time() -> None:
    clock = VirtualClock()
    entries = [
        RecordedEntry(t_s=1.0, kind=EntryKind.LOST),
        RecordedEntry(t_s=3.0, kind=EntryKind.BACK),
        received(3.5, b"x"),
    ]
    replay = ReplayTransport(entries, address="replay:x", clock=clock)
    replay.open()
    with pytest.raises(GaugeDisconnected, match="unplugged"):
        replay.read(64, 5.0)
    assert clock.now_s() == 1.0
    clock.advance(1.5)
    with pytest.raises(GaugeNotFound):
        replay.open()
    clock.advance(0.5)
    replay.open()
    assert replay.read(64, 5.0) == b"x"


def test_a_recording_that_ends_unplugged_ends_all_the_same() -> None:
    replay = ReplayTransport(
        [RecordedEntry(t_s=1.0, kind=EntryKind.LOST)], address="replay:x", clock=VirtualClock()
    )
    replay.open()
    with pytest.raises(GaugeDisconnected):
        replay.read(64, 5.0)
    assert replay.ended
    with pytest.raises(GaugeNotFound):
        replay.open()


def test_pace_is_machine_seconds_for_each_recorded_second(monkeypatch: pytest.MonkeyPatch) -> None:
    slept: list[float] = []
    monkeypatch.setattr("time.sleep", slept.append)
    clock = VirtualClock(pace=0.5)
    clock.advance(2.0)
    clock.advance_to(2.0)
    clock.advance_to(1.0)
    VirtualClock().advance(5.0)
    assert slept == [1.0]
    assert clock.now_s() == 2.0
    with pytest.raises(ValueError, match="pace"):
        VirtualClock(pace=-1.0)


@pytest.mark.parametrize("pace", ["-1", "100.1", "1e300", "nan", "slow"])
def test_a_pace_that_nobody_would_wait_for_is_refused(pace: str) -> None:
    with pytest.raises(InputError, match=f"pace={pace}") as caught:
        open_gauge(f"replay:{RECORDINGS / 'bench-caliper.jsonl'}?pace={pace}")
    assert "from 0 to 100" in caught.value.hint


def test_a_missing_recording_is_an_error_when_the_gauge_is_built(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match=r"none\.jsonl"):
        open_gauge(f"replay:{tmp_path / 'none.jsonl'}")
