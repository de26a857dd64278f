"""Recordings: what is written can be read, and each fault is named with its line."""

from __future__ import annotations

import errno
import io
import json
import os
from pathlib import Path
from typing import Any

import pytest
from scripted import ScriptedTransport

from gaugelink.devices.recordings.recording import (
    EntryKind,
    RecordedEntry,
    RecordingTransport,
    RecordingWriter,
    read_recording,
)
from gaugelink.errors import GaugeDisconnected, InputError, RecordingError

HEADER = '{"gaugelink_recording": 1, "format": "x"}'
GOOD = '{"t_s": 0.5, "received_hex": "41"}'

BAD_FILES = [
    ("", 1, "the file is empty"),
    ("not json", 1, "not JSON"),
    ("[1]", 1, "not a JSON object"),
    ('{"format": "x"}', 1, "no 'gaugelink_recording'"),
    ('{"gaugelink_recording": 2, "format": "x"}', 1, "schema 2 is not 1"),
    ('{"gaugelink_recording": true, "format": "x"}', 1, "schema True is not 1"),
    ('{"gaugelink_recording": 1}', 1, "'format' must name"),
    ('{"gaugelink_recording": 1, "format": ""}', 1, "'format' must name"),
    ('{"gaugelink_recording": 1, "format": "x", "note": 3}', 1, "'note' must be text"),
    ('{"gaugelink_recording": 1, "format": "x", "speed": 3}', 1, "unknown key 'speed'"),
    (f"{HEADER}\n{GOOD}\n" + '{"t_s": 1.0, "received', 3, "not JSON"),
    (f"{HEADER}\n\n{GOOD}", 2, "not JSON"),
    (f"{HEADER}\n[]", 2, "not a JSON object"),
    (f"{HEADER}\n" + '{"received_hex": "41"}', 2, "'t_s' must be a number"),
    (f"{HEADER}\n" + '{"t_s": "1", "received_hex": "41"}', 2, "'t_s' must be a number"),
    (f"{HEADER}\n" + '{"t_s": true, "received_hex": "41"}', 2, "'t_s' must be a number"),
    (f"{HEADER}\n" + '{"t_s": -0.1, "received_hex": "41"}', 2, "finite and not negative"),
    (f"{HEADER}\n" + '{"t_s": NaN, "received_hex": "41"}', 2, "finite and not negative"),
    (f"{HEADER}\n" + f'{{"t_s": 1{"0" * 400}, "received_hex": "41"}}', 2, "finite and not"),
    (f"{HEADER}\n{GOOD}\n" + '{"t_s": 0.4, "received_hex": "41"}', 3, "time runs backwards"),
    (f"{HEADER}\n" + '{"t_s": 1}', 2, "holds one of"),
    (f"{HEADER}\n" + '{"t_s": 1, "sent_hex": "41", "link": "lost"}', 2, "holds one of"),
    (f"{HEADER}\n" + '{"t_s": 1, "received_hex": "4"}', 2, "'4' is not hex"),
    (f"{HEADER}\n" + '{"t_s": 1, "received_hex": "4g"}', 2, "'4g' is not hex"),
    (f"{HEADER}\n" + '{"t_s": 1, "received_hex": ""}', 2, "written as hex text"),
    (f"{HEADER}\n" + '{"t_s": 1, "sent_hex": 41}', 2, "written as hex text"),
    (f"{HEADER}\n" + '{"t_s": 1, "link": "gone"}', 2, "'lost' or 'back'"),
    (f"{HEADER}\n" + '{"t_s": 1, "link": []}', 2, "'lost' or 'back'"),
    (f"{HEADER}\n" + '{"t_s": 1, "received_hex": "41", "at": 2}', 2, "unknown key 'at'"),
    (f"{HEADER}\n" + "[" * 100_000, 2, "not JSON"),
]


@pytest.mark.parametrize(("text", "line", "message"), BAD_FILES)
def test_a_bad_file_is_refused_with_its_name_and_line(
    tmp_path: Path, text: str, line: int, message: str
) -> None:
    path = tmp_path / "bad.jsonl"
    path.write_text(text)
    with pytest.raises(RecordingError) as caught:
        read_recording(path)
    assert str(caught.value).startswith(f"{path}: line {line}: ")
    assert message in str(caught.value)
    assert (caught.value.path, caught.value.where) == (str(path), f"line {line}")
    assert caught.value.hint


def test_bytes_that_are_no_text_are_refused_with_their_line(tmp_path: Path) -> None:
    path = tmp_path / "bad.jsonl"
    path.write_bytes(HEADER.encode() + b"\n" + GOOD.encode() + b"\n\xff\n")
    with pytest.raises(RecordingError, match="line 3: the line is not UTF-8"):
        read_recording(path)


@pytest.mark.parametrize("name", ["missing.jsonl", "."])
def test_a_file_that_cannot_be_read_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(RecordingError, match="cannot be read"):
        read_recording(tmp_path / name)


ENTRIES = (
    RecordedEntry(t_s=0.0, kind=EntryKind.SENT, data=b"R\r"),
    RecordedEntry(t_s=0.031, kind=EntryKind.RECEIVED, data=bytes(range(256))),
    RecordedEntry(t_s=0.031, kind=EntryKind.RECEIVED, data=b'"\\\n\xe2\x80\xa8'),
    RecordedEntry(t_s=2.25, kind=EntryKind.LOST),
    RecordedEntry(t_s=7.000001, kind=EntryKind.BACK),
)


def test_what_is_written_is_read(tmp_path: Path) -> None:
    path = tmp_path / "new.jsonl"
    writer = RecordingWriter(path, format="line-9600-8N1-unit", note="à la main")
    for entry in ENTRIES:
        writer.write(entry)
    recording = read_recording(path)
    assert recording.entries == ENTRIES
    assert (recording.format, recording.note) == ("line-9600-8N1-unit", "à la main")


def test_the_text_beside_the_hex_is_for_the_reader(tmp_path: Path) -> None:
    path = tmp_path / "new.jsonl"
    RecordingWriter(path, format="x").write(ENTRIES[0])
    line = json.loads(path.read_text().splitlines()[1])
    assert line == {"t_s": 0.0, "sent_hex": "520d", "text": "R\r"}


def test_a_recording_is_never_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "old.jsonl"
    path.write_text("precious")
    with pytest.raises(InputError, match=r"old\.jsonl"):
        RecordingWriter(path, format="x")
    assert path.read_text() == "precious"


def test_a_recording_that_cannot_go_on_says_so(tmp_path: Path) -> None:
    path = tmp_path / "gone.jsonl"
    writer = RecordingWriter(path, format="x")
    path.unlink()
    path.mkdir()
    with pytest.raises(RecordingError, match="cannot continue"):
        writer.write(ENTRIES[0])


class NearlyFull(io.FileIO):
    """A file on a disk with room for five more bytes."""

    def write(self, data: Any) -> int:
        super().write(data[:5])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def fill_the_disk(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(Path, "open", lambda path, mode: NearlyFull(path, mode))


def test_a_full_disk_leaves_a_recording_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "new.jsonl"
    writer = RecordingWriter(path, format="x")
    writer.write(ENTRIES[0])
    with monkeypatch.context() as patch, pytest.raises(RecordingError) as caught:
        fill_the_disk(patch)
        writer.write(ENTRIES[1])
    assert "the disk is full, and what was recorded so far is kept." in str(caught.value)
    assert "Make room" in caught.value.hint
    assert read_recording(path).entries == ENTRIES[:1]
    writer.write(ENTRIES[1])  # room was made
    assert read_recording(path).entries == ENTRIES[:2]


def test_on_a_full_disk_no_recording_is_begun(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "new.jsonl"
    with monkeypatch.context() as patch, pytest.raises(RecordingError) as caught:
        fill_the_disk(patch)
        RecordingWriter(path, format="x")
    assert "the disk is full, and the recording cannot start." in str(caught.value)
    assert "Make room" in caught.value.hint
    assert not path.exists()


def test_everything_that_passes_is_written_down(tmp_path: Path) -> None:
    gone = GaugeDisconnected("unplugged")
    script = ScriptedTransport([(b"R\r", b"+1"), (None, b""), (None, gone), (None, b"+2")])
    script.clock.advance(100.0)  # recorded times count from the opening
    path = tmp_path / "new.jsonl"
    writer = RecordingWriter(path, format="x")
    transport = RecordingTransport(script, clock=script.clock, writer=writer)
    transport.open()
    transport.write(b"R\r")
    assert transport.read(64, 0.5) == b"+1"
    assert transport.read(64, 0.5) == b""
    with pytest.raises(GaugeDisconnected):
        transport.read(64, 0.5)
    transport.close()
    script.clock.advance(3.0)
    transport.open()
    assert not transport.ended
    assert transport.read(64, 0.5) == b"+2"
    assert transport.ended
    assert [(entry.t_s, entry.kind, entry.data) for entry in read_recording(path).entries] == [
        (0.0, EntryKind.SENT, b"R\r"),
        (0.0, EntryKind.RECEIVED, b"+1"),
        (0.5, EntryKind.LOST, b""),
        (3.5, EntryKind.BACK, b""),
        (3.5, EntryKind.RECEIVED, b"+2"),
    ]


def test_a_loss_met_while_writing_is_written_down_once(tmp_path: Path) -> None:
    script = ScriptedTransport([])
    path = tmp_path / "new.jsonl"
    writer = RecordingWriter(path, format="x")
    transport = RecordingTransport(script, clock=script.clock, writer=writer)
    transport.open()
    script.close()
    for _ in range(2):
        with pytest.raises(GaugeDisconnected):
            transport.write(b"R\r")
    assert [entry.kind for entry in read_recording(path).entries] == [EntryKind.LOST]
