"""Writing a recording: alone, or around any transport while it is in use."""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Literal, final

from gaugelink.devices.clock import Clock
from gaugelink.devices.contract import Transport
from gaugelink.devices.finite import has_ended
from gaugelink.devices.recordings.recording import HEADER_KEY, SCHEMA, Entry, EntryKind
from gaugelink.errors import GaugeDisconnected, InputError, RecordingError

_DISK_IS_FULL = frozenset({errno.ENOSPC, errno.EDQUOT})


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
                raise _disk_is_full(path, "no recording can be begun") from exc
            raise InputError(
                f"No recording can be begun in {path} ({exc.strerror or exc}).",
                hint="Name a new file in a folder that you may write to.",
            ) from exc

    def write(self, entry: Entry) -> None:
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
                raise _disk_is_full(self._path, "what was recorded before is kept") from exc
            raise RecordingError(
                f"the recording cannot go on ({exc.strerror or exc}).",
                path=str(self._path),
                hint="Record into another file, or go on without recording.",
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


def _as_fields(entry: Entry) -> dict[str, float | str]:
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
        self._transport = transport
        self._clock = clock
        self._writer = writer
        self._origin_s: float | None = None
        self._lost = False

    @property
    def address(self) -> str:
        """The address of the transport that does the work."""
        return self._transport.address

    @property
    def identity(self) -> str:
        """The identity of the transport that does the work."""
        return self._transport.identity

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
        self._writer.write(Entry(t_s=now_s - origin_s, kind=kind, data=data))
