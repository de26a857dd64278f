"""A stop at the worst moment: what was read before it is kept and told, and decides the end.

Nothing waits for luck: the signal is raised by the very step after which it used to lose.
"""

from __future__ import annotations

import math
import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from cli_gauges import FORMAT, gauge_on_pty, line_of, presses, without
from cli_runs import call, is_clear

from gaugelink.capture.session import CaptureSession
from gaugelink.cli import listen as listening
from gaugelink.cli import output, stop_key
from gaugelink.cli.recall import Memory
from gaugelink.cli.stop_key import StopKey
from gaugelink.cli.talk import Talk
from gaugelink.devices.decoders.line import LineDecoder
from gaugelink.devices.gauge import Gauge
from gaugelink.devices.ports.serial_port import SerialTransport
from gaugelink.devices.recordings.recording import (
    EntryKind,
    RecordedEntry,
    RecordingTransport,
    RecordingWriter,
)
from gaugelink.devices.recordings.replay import ReplayTransport
from gaugelink.jobbook.gauge_book import GaugeRecords
from gaugelink.jobbook.journal import JobKeeper, Journal
from gaugelink.model import GaugeEvent, Reading

on_posix = pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
BORE = (11.52, 11.51, 11.53, 11.52, 11.51)


class Press:
    """Raises a signal once, when what it is wrapped around has run ``after`` times."""

    def __init__(self, after: int = 1, number: signal.Signals = signal.SIGINT) -> None:
        self.left = after
        self.number = number

    def behind(self, monkeypatch: pytest.MonkeyPatch, owner: Any, name: str) -> None:
        """Press after each call of ``owner.name``; one that brings nothing does not count."""
        real = getattr(owner, name)

        def pressed(*args: Any, **kwargs: Any) -> Any:
            result = real(*args, **kwargs)
            if result is None or result:
                self.once()
            return result

        monkeypatch.setattr(owner, name, pressed)

    def before(self, monkeypatch: pytest.MonkeyPatch, owner: Any, name: str) -> None:
        """Press when ``owner.name`` is called, and only then let it work."""
        real = getattr(owner, name)

        def pressed(*args: Any, **kwargs: Any) -> Any:
            self.once()
            return real(*args, **kwargs)

        monkeypatch.setattr(owner, name, pressed)

    def once(self) -> None:
        self.left -= 1
        if self.left == 0:
            signal.raise_signal(self.number)


def recorded(path: Path, *pieces: bytes) -> str:
    writer = RecordingWriter(path, format=FORMAT, note="invented")
    for number, data in enumerate(pieces, start=1):
        writer.write(RecordedEntry(t_s=number * 1.0, kind=EntryKind.RECEIVED, data=data))
    return f"replay:{path}?sends=button"


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM], ids=["Ctrl-C", "terminated"])
@pytest.mark.parametrize(
    ("owner", "name"),
    [
        (ReplayTransport, "read"),
        (RecordingTransport, "read"),
        (LineDecoder, "feed"),
        (Gauge, "poll"),
        (output, "emit_json"),
    ],
    ids=["read", "recorded", "decoded", "polled", "told"],
)
def test_a_reading_that_was_read_is_told(
    owner: Any, name: str, number: signal.Signals, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = recorded(tmp_path / "gauge.jsonl", line_of(11.52), line_of(11.53))
    record = tmp_path / "kept.jsonl"
    Press(number=number).behind(monkeypatch, owner, name)
    done = call(tmp_path, "listen", address, "--json", "--record", str(record))
    assert done.code == 0
    assert [event["displayed"] for event in done.lines] == ["11.52"]
    assert record.read_text(encoding="utf-8").count("received_hex") == 1


def test_all_that_came_in_one_piece_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = recorded(tmp_path / "gauge.jsonl", line_of(11.52) + b"noise\r\n" + line_of(11.53))
    Press().behind(monkeypatch, output, "emit_json")
    done = call(tmp_path, "listen", address, "--json")
    assert done.code == 0
    assert [event["kind"] for event in done.lines] == ["reading", "fault", "reading"]


def test_half_a_line_was_heard(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    half = line_of(11.52)[:7]
    address = recorded(tmp_path / "gauge.jsonl", half, line_of(11.53)[7:])
    Press().behind(monkeypatch, ReplayTransport, "read")
    done = call(tmp_path, "listen", address, "--json")
    assert done.code == 0
    (event,) = done.lines
    assert (event["kind"], bytes.fromhex(event["raw_hex"])) == ("fault", half)


def test_half_a_line_was_heard_when_the_time_is_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    half = line_of(11.52)[:7]
    address = recorded(tmp_path / "gauge.jsonl", half, line_of(11.53)[7:])
    # Begun, looked at before two reads (nothing comes for the first second), and time is up.
    moments = SimpleNamespace(monotonic=iter([0.0] * 12 + [99.0]).__next__)
    monkeypatch.setattr(listening, "time", moments)
    done = call(tmp_path, "listen", address, "--json", "--seconds", "60")
    assert done.code == 0
    assert [bytes.fromhex(event["raw_hex"]) for event in done.lines] == [half]


def test_nothing_heard_before_a_stop_is_said_to_be_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = recorded(tmp_path / "gauge.jsonl", line_of(11.52))
    Press().before(monkeypatch, output, "say")
    done = call(tmp_path, "listen", address)
    assert (done.code, done.out) == (3, "")
    assert is_clear(done.err, "Nothing was heard at")


def test_a_stop_while_a_port_is_opened_ends_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = recorded(tmp_path / "gauge.jsonl", line_of(11.52))
    Press().before(monkeypatch, ReplayTransport, "open")
    done = call(tmp_path, "listen", address)
    assert (done.code, done.out) == (130, "")


@on_posix
def test_what_was_heard_before_a_stop_is_identified(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = SerialTransport.read

    def read(transport: SerialTransport, max_bytes: int, timeout_s: float) -> bytes:
        os.write(gauge.master, line_of(11.52) * 2)
        return real(transport, max_bytes, timeout_s)

    monkeypatch.setattr(SerialTransport, "read", read)
    Press().behind(monkeypatch, SerialTransport, "read")
    with gauge_on_pty(tmp_path) as gauge:
        done = call(tmp_path, "listen", f"serial:{gauge.link}", "--json")
    assert done.code == 0
    assert (done.data["verdict"], done.data["best"]["format"]) == ("clear", FORMAT)
    assert done.data["n_bytes"] == 2 * len(line_of(11.52))
    (gauge_kept,) = Memory(tmp_path / "journal.sqlite").gauges
    assert gauge_kept.format == FORMAT


@on_posix
def test_a_stop_ends_identifying_before_anything_is_heard(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Press().before(monkeypatch, SerialTransport, "read")
    with gauge_on_pty(tmp_path) as gauge:
        done = call(tmp_path, "listen", f"serial:{gauge.link}")
    assert (done.code, done.out) == (3, "")
    assert is_clear(done.err, "Nothing was heard at")
    assert (
        done.err.count("press the data button of the gauge now") == 1
    )  # and nothing was asked or tried after


@pytest.mark.parametrize(
    ("owner", "name"),
    [(JobKeeper, "write"), (JobKeeper, "commit"), (Talk, "heard"), (Talk, "acted")],
    ids=["written", "durable", "heard", "acted"],
)
@pytest.mark.parametrize("after", range(1, 9))
def test_whatever_is_interrupted_a_kept_reading_has_its_act(
    after: int, owner: Any, name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = presses(tmp_path / "bore.jsonl", 0.0, *BORE)
    Press(after).behind(monkeypatch, owner, name)
    done = call(tmp_path, "measure", address, *without("bore"), "--json")
    assert done.code in ((0, 130) if after > 6 else (130,))  # it may have ended by itself
    kinds = [e["kind"] for e in call(tmp_path, "jobs", "1", "--events").lines]
    assert kinds.count("reading") == kinds.count("taken") == done.err.count("taken  ")
    assert kinds.count("reading") > 0
    assert "Job 1 is saved as far as it got." in done.err


def test_a_closing_zero_that_was_seen_before_a_stop_completes_the_job(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "bore.jsonl"
    writer = RecordingWriter(path, format=FORMAT, note="invented")
    for number, value_mm in enumerate((0.0, *BORE, 0.01)):
        data = line_of(value_mm)
        writer.write(RecordedEntry(t_s=number * 1.0, kind=EntryKind.RECEIVED, data=data))
    real = CaptureSession.hear

    def hear(session: CaptureSession, event: GaugeEvent) -> Any:
        if isinstance(event.body, Reading) and event.body.displayed == "0.01":
            monkeypatch.setattr(Talk, "heard", lambda *_: signal.raise_signal(signal.SIGINT))
        return real(session, event)

    # Before the pause that would tell it from jaws closed twice.
    monkeypatch.setattr(CaptureSession, "hear", hear)
    monkeypatch.setattr(CaptureSession, "tick", only_at_the_end(CaptureSession.tick))
    done = call(tmp_path, "measure", f"replay:{path}?sends=button", *without("bore"), "--json")
    assert (done.code, done.data["closed"]) == (0, True)
    assert "Job 1 is complete." in done.err


def only_at_the_end(real: Callable[..., Any]) -> Callable[..., Any]:
    def tick(session: CaptureSession, gauge_id: str, now_s: float) -> Any:
        return real(session, gauge_id, now_s) if math.isinf(now_s) else []

    return tick


def test_a_job_that_closed_is_complete_whenever_the_stop_comes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = presses(tmp_path / "bore.jsonl", 0.0, *BORE, 0.01)
    Press().before(monkeypatch, Journal, "mark_closed")
    done = call(tmp_path, "measure", address, *without("bore"), "--json")
    assert (done.code, done.data["closed"]) == (0, True)
    assert "Job 1 is complete." in done.err


def test_a_check_that_was_finished_is_kept_whenever_the_stop_comes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = presses(tmp_path / "gauge.jsonl", 0.0, *[5.0] * 4, 0.0)
    check = ("--length", "5", "--readings", "4", "--zeros", "1", "--json")
    Press().before(monkeypatch, GaugeRecords, "add_check")
    done = call(tmp_path, "check", address, *check)
    assert (done.code, done.data["check"]["verdict"]) == (0, "pass")
    assert call(tmp_path, "check", address, "--show", "--json").data["gauges"][0]["checks"]


def test_two_presses_at_once_are_one_and_a_late_one_interrupts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    now_s = [5.0]
    monkeypatch.setattr(stop_key, "time", SimpleNamespace(monotonic=lambda: now_s[0]))
    before = signal.getsignal(signal.SIGINT), signal.getsignal(signal.SIGTERM)
    with StopKey() as stop:
        stop.hold()
        assert not stop.is_asked()
        signal.raise_signal(signal.SIGINT)
        now_s[0] += stop_key.HANGS_S
        signal.raise_signal(signal.SIGTERM)
        assert stop.is_asked()
        now_s[0] += 0.001
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
    assert (signal.getsignal(signal.SIGINT), signal.getsignal(signal.SIGTERM)) == before


def test_a_port_that_hangs_is_left_at_the_second_press(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = recorded(tmp_path / "gauge.jsonl", line_of(11.52), line_of(11.53))
    monkeypatch.setattr(stop_key, "HANGS_S", -1.0)  # any second press comes late
    real = ReplayTransport.read

    def read(transport: ReplayTransport, max_bytes: int, timeout_s: float) -> bytes:
        data = real(transport, max_bytes, timeout_s)
        if b"11.53" in data:
            signal.raise_signal(signal.SIGINT)
            signal.raise_signal(signal.SIGINT)
        return data

    monkeypatch.setattr(ReplayTransport, "read", read)
    done = call(tmp_path, "listen", address, "--json")
    assert done.code == 0
    assert [event["displayed"] for event in done.lines] == ["11.52"]
