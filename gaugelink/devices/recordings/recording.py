r"""A recorded exchange: what passed between a gauge and us, and when.

One JSON object a line, so that a file cut off by a crash is whole up to its last
line, and a bug report can be read by eye::

    {"gaugelink_recording": 1, "format": "line-9600-8N1-unit", "note": "..."}
    {"t_s": 0.1, "sent_hex": "520d", "text": "R\r"}
    {"t_s": 0.123, "received_hex": "2b312e35300d", "text": "+1.50\r"}
    {"t_s": 4.0, "link": "lost"}
    {"t_s": 7.5, "link": "back"}

``t_s`` counts seconds from the moment the port was opened and never runs
backwards. ``text`` is for the reader and is not used.
A ``RecordingTransport`` writes one around any transport while it is in use.
"""

from __future__ import annotations

import errno
import json
import math
import os
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Literal, final

from gaugelink.devices.contract import Clock, Transport, has_ended
from gaugelink.errors import GaugeDisconnected, InputError, RecordingError, refuse_special

SCHEMA = 1
HEADER_KEY = "gaugelink_recording"
HEADER_KEYS = frozenset({HEADER_KEY, "format", "note"})
ENTRY_KEYS = frozenset({"t_s", "received_hex", "sent_hex", "link", "text"})
_DISK_IS_FULL = frozenset({errno.ENOSPC, errno.EDQUOT})


class EntryKind(StrEnum):
    """What happened: bytes from the gauge, bytes to it, or its cable out or in."""

    RECEIVED = "received"
    SENT = "sent"
    LOST = "lost"
    BACK = "back"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedEntry:
    """One thing that happened ``t_s`` seconds after the port was opened."""

    t_s: float
    kind: EntryKind
    data: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """A whole recording; ``format`` names the profile that decodes it."""

    format: str
    note: str
    entries: tuple[RecordedEntry, ...]


def read_recording(path: Path) -> Recording:
    """Read a recording.

    Raises:
        RecordingError: the file cannot be read, or a line breaks the layout;
            the message names the file and the line.
    """
    lines = _read_lines(path)
    if lines == [""]:
        raise _error(path, 1, "the file is empty")
    header = _parse_header(path, lines[0])
    entries = tuple(_parse_entries(path, lines[1:]))
    return Recording(format=header["format"], note=header.get("note", ""), entries=entries)


def _read_lines(path: Path) -> list[str]:
    try:
        refuse_special(path)
        return path.read_bytes().decode("utf-8").removesuffix("\n").split("\n")
    except OSError as exc:
        raise RecordingError(
            f"the recording cannot be read ({exc.strerror or exc}).",
            path=str(path),
            hint="Check the path; a recording is made by 'gaugelink listen --record FILE'.",
        ) from exc
    except UnicodeDecodeError as exc:
        line = exc.object[: exc.start].count(b"\n") + 1
        raise _error(path, line, "the line is not UTF-8 text") from exc


def _parse_header(path: Path, line: str) -> dict[str, str]:
    header = _parse_object(path, 1, line)
    schema = header.get(HEADER_KEY)
    if schema is None:
        raise _error(path, 1, f"the first line has no {HEADER_KEY!r}")
    if isinstance(schema, bool) or schema != SCHEMA:
        raise _error(path, 1, f"schema {schema!r} is not {SCHEMA}; a newer gaugelink may read it")
    _refuse_unknown(path, 1, header, HEADER_KEYS)
    if not isinstance(header.get("format"), str) or not header["format"]:
        raise _error(path, 1, "'format' must name a format profile")
    if not isinstance(header.get("note", ""), str):
        raise _error(path, 1, "'note' must be text")
    return {key: str(value) for key, value in header.items()}


def _parse_entries(path: Path, lines: list[str]) -> Iterator[RecordedEntry]:
    latest_s = 0.0
    for number, line in enumerate(lines, start=2):
        entry = _parse_entry(path, number, line)
        if entry.t_s < latest_s:
            raise _error(path, number, f"time runs backwards, from {latest_s} s to {entry.t_s} s")
        latest_s = entry.t_s
        yield entry


def _parse_entry(path: Path, number: int, line: str) -> RecordedEntry:
    fields = _parse_object(path, number, line)
    _refuse_unknown(path, number, fields, ENTRY_KEYS)
    t_s = _parse_time(path, number, fields.get("t_s"))
    what = [key for key in ("received_hex", "sent_hex", "link") if key in fields]
    if len(what) != 1:
        raise _error(path, number, "a line holds one of 'received_hex', 'sent_hex' and 'link'")
    value = fields[what[0]]
    if what[0] == "link":
        if value not in (EntryKind.LOST, EntryKind.BACK):
            raise _error(path, number, f"'link' is 'lost' or 'back', not {value!r}")
        return RecordedEntry(t_s=t_s, kind=EntryKind(str(value)))
    kind = EntryKind.RECEIVED if what[0] == "received_hex" else EntryKind.SENT
    return RecordedEntry(t_s=t_s, kind=kind, data=_parse_hex(path, number, value))


def _parse_object(path: Path, number: int, line: str) -> dict[str, object]:
    try:
        parsed = json.loads(line)
    except (ValueError, RecursionError) as exc:
        raise _error(path, number, "the line is not JSON") from exc
    if not isinstance(parsed, dict):
        raise _error(path, number, "the line is not a JSON object")
    return parsed


def _refuse_unknown(
    path: Path, number: int, fields: dict[str, object], known: frozenset[str]
) -> None:
    unknown = sorted(fields.keys() - known)
    if unknown:
        raise _error(path, number, f"unknown key {unknown[0]!r}")


def _parse_time(path: Path, number: int, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _error(path, number, f"'t_s' must be a number of seconds, not {value!r}")
    try:
        t_s = float(value)
    except OverflowError:
        t_s = math.inf
    if not (math.isfinite(t_s) and t_s >= 0.0):
        raise _error(path, number, "'t_s' must be finite and not negative")
    return t_s


def _parse_hex(path: Path, number: int, value: object) -> bytes:
    if not isinstance(value, str) or not value:
        raise _error(path, number, f"bytes are written as hex text, not {value!r}")
    try:
        return bytes.fromhex(value)
    except ValueError as exc:
        raise _error(path, number, f"{value!r} is not hex") from exc


def _error(path: Path, number: int, message: str) -> RecordingError:
    return RecordingError(
        f"{message}.",
        path=str(path),
        where=f"line {number}",
        hint="Correct that line, or record the exchange again.",
    )


class RecordingWriter:
    """Begins a recording file and adds entries to it.

    The file is opened for each entry and never held: a killed process leaves every
    entry it wrote, and there is nothing to close. On a disk that is full it stays
    whole up to the last entry that there was room for.

    Args:
        path: a file that does not exist yet; a recording is never overwritten.
        format: name of the profile that decodes the bytes.
        note: what was recorded, for the reader.

    Raises:
        InputError: the file exists or its folder cannot be written to.
        RecordingError: the disk is full; no file is left there.
    """

    def __init__(self, path: Path, *, format: str, note: str = "") -> None:
        self._path = path
        self._whole_bytes = 0
        try:
            self._add({HEADER_KEY: SCHEMA, "format": format, "note": note}, mode="x")
        except OSError as exc:
            if exc.errno in _DISK_IS_FULL:
                with suppress(OSError):
                    path.unlink()
                raise _disk_is_full(path, "the recording cannot start") from exc
            raise InputError(
                f"Cannot record to {path} ({exc.strerror or exc}).",
                hint="Name a new file in a folder that you may write to.",
            ) from exc

    def write(self, entry: RecordedEntry) -> None:
        """Add one entry; its time is kept to the microsecond.

        Raises:
            RecordingError: the file can no longer be written to.
        """
        try:
            self._add(_as_fields(entry), mode="a")
        except OSError as exc:
            if exc.errno in _DISK_IS_FULL:
                with suppress(OSError):  # a line that was begun would spoil the whole file
                    os.truncate(self._path, self._whole_bytes)
                raise _disk_is_full(self._path, "what was recorded so far is kept") from exc
            raise RecordingError(
                f"the recording cannot continue ({exc.strerror or exc}).",
                path=str(self._path),
                hint="Record into another file, or continue without recording.",
            ) from exc

    def _add(self, fields: Mapping[str, float | str], *, mode: Literal["x", "a"]) -> None:
        line = (json.dumps(fields) + "\n").encode("ascii")
        with self._path.open(f"{mode}b") as file:
            file.write(line)
        self._whole_bytes += len(line)


def _disk_is_full(path: Path, consequence: str) -> RecordingError:
    return RecordingError(
        f"the disk is full, and {consequence}.",
        path=str(path),
        hint="Make room on the disk, or record into a file on another one.",
    )


def _as_fields(entry: RecordedEntry) -> dict[str, float | str]:
    fields: dict[str, float | str] = {"t_s": round(entry.t_s, 6)}
    if entry.kind in (EntryKind.LOST, EntryKind.BACK):
        return fields | {"link": str(entry.kind)}
    return fields | {
        f"{entry.kind}_hex": entry.data.hex(),
        "text": entry.data.decode("ascii", "backslashreplace"),
    }


@final
class RecordingTransport:
    """Passes everything on to another transport and writes down what passed.

    Args:
        transport: the one that does the work.
        clock: where the times of the entries come from.
        writer: where they go; time 0 is the first opening.
    """

    def __init__(self, transport: Transport, *, clock: Clock, writer: RecordingWriter) -> None:
        self.address = transport.address
        self.identity = transport.identity
        self._transport = transport
        self._clock = clock
        self._writer = writer
        self._origin_s: float | None = None
        self._lost = False

    @property
    def ended(self) -> bool:
        """True when the transport that does the work can bring nothing more."""
        return has_ended(self._transport)

    def open(self) -> None:
        """Open the port; after a loss, write down that the link is back."""
        self._transport.open()
        if self._origin_s is None:
            self._origin_s = self._clock.now_s()
        if self._lost:
            self._lost = False
            self._note(EntryKind.BACK)

    def read(self, max_bytes: int, timeout_s: float) -> bytes:
        """Read and write down what came, or that the link was lost."""
        try:
            data = self._transport.read(max_bytes, timeout_s)
        except GaugeDisconnected:
            self._note_loss()
            raise
        if data:
            self._note(EntryKind.RECEIVED, data)
        return data

    def write(self, data: bytes) -> None:
        """Send ``data`` and write it down."""
        try:
            self._transport.write(data)
        except GaugeDisconnected:
            self._note_loss()
            raise
        self._note(EntryKind.SENT, data)

    def close(self) -> None:
        """Close the port; the recording goes on when it is opened again."""
        self._transport.close()

    def _note_loss(self) -> None:
        if not self._lost:
            self._lost = True
            self._note(EntryKind.LOST)

    def _note(self, kind: EntryKind, data: bytes = b"") -> None:
        now_s = self._clock.now_s()
        origin_s = now_s if self._origin_s is None else self._origin_s
        self._writer.write(RecordedEntry(t_s=now_s - origin_s, kind=kind, data=data))
