"""Every transport, shipped or double, keeps the one contract."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from contract_checks import PAYLOAD, SHORT_S, Rig, check_transport
from pty_port import PtyPort
from scripted import ScriptedTransport

from gaugelink.devices.contract import VirtualClock
from gaugelink.devices.ports.serial_port import SerialTransport
from gaugelink.devices.profiles.profile import PortSettings
from gaugelink.devices.recordings.recording import (
    EntryKind,
    RecordedEntry,
    RecordingTransport,
    RecordingWriter,
)
from gaugelink.devices.recordings.replay import ReplayTransport
from gaugelink.devices.typed_keys import KeysTransport, PipeSource


def nothing() -> None:
    """The bytes are in the script already."""


def write_all(fd: int) -> None:
    os.write(fd, PAYLOAD)


@pytest.fixture
def cleanup() -> Iterator[ExitStack]:
    with ExitStack() as stack:
        yield stack


def test_replay_transport() -> None:
    def make() -> Rig:
        entries = [RecordedEntry(t_s=3 * SHORT_S, kind=EntryKind.RECEIVED, data=PAYLOAD)]
        replay = ReplayTransport(entries, address="replay:x", clock=VirtualClock())
        return Rig(transport=replay, deliver=nothing)

    check_transport(make)


def test_scripted_transport() -> None:
    def make() -> Rig:
        script = ScriptedTransport([(None, b""), (None, PAYLOAD)])
        return Rig(transport=script, deliver=nothing)

    check_transport(make)


def test_recording_transport(tmp_path: Path) -> None:
    count = iter(range(100))

    def make() -> Rig:
        script = ScriptedTransport([(None, b""), (None, PAYLOAD)])
        writer = RecordingWriter(tmp_path / f"{next(count)}.jsonl", format="x")
        recorder = RecordingTransport(script, clock=script.clock, writer=writer)
        return Rig(transport=recorder, deliver=nothing)

    check_transport(make)


def test_keys_transport_on_a_pipe(cleanup: ExitStack) -> None:
    def make() -> Rig:
        reading, writing = os.pipe()
        cleanup.callback(os.close, writing)
        keys = KeysTransport(PipeSource(reading))
        return Rig(transport=keys, deliver=lambda: write_all(writing))

    check_transport(make)


def test_serial_transport_on_loop() -> None:
    def make() -> Rig:
        port = SerialTransport(
            address="loop://", target="loop://", settings=PortSettings(), is_url=True
        )
        return Rig(transport=port, deliver=lambda: port.write(PAYLOAD))

    check_transport(make)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals to open.")
def test_serial_transport_on_a_pty(tmp_path: Path, cleanup: ExitStack) -> None:
    count = iter(range(100))

    def make() -> Rig:
        pty = PtyPort(tmp_path / f"ttyGAUGE{next(count)}")
        cleanup.callback(pty.unplug)
        name = str(pty.link)
        port = SerialTransport(address=f"serial:{name}", target=name, settings=PortSettings())
        return Rig(transport=port, deliver=lambda: pty.send(PAYLOAD))

    check_transport(make)
