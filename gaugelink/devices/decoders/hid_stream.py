"""The byte stream in which HID reports travel: borders kept, the descriptor with them.

::

    report        n  b1 ... bn           n = 1 ... 255
    descriptor    0  low high  d1 ... dm   m = low + 256 * high

A report means nothing without the report descriptor of its device, so the transport
sends that ahead of the first report each time it has opened the device. A recording
of the stream can therefore be decoded again, and by a better decoder.
"""

from __future__ import annotations

from dataclasses import dataclass

from gaugelink.model import Fault, FaultKind

MAX_REPORT_BYTES = 255


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """One input report as the device sent it; ``raw`` is its stretch of the stream."""

    data: bytes
    raw: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Descriptor:
    """A report descriptor as the device sent it; ``raw`` is its stretch of the stream."""

    data: bytes
    raw: bytes


def frame_report(data: bytes) -> bytes:
    """Return a report as it travels; what is beyond 255 bytes is cut off."""
    cut = data[:MAX_REPORT_BYTES]
    return bytes([len(cut)]) + cut if cut else b""


def frame_descriptor(data: bytes) -> bytes:
    """Return a report descriptor as it travels."""
    return b"\0" + len(data).to_bytes(2, "little") + data


class ReportStream:
    """Undoes the framing; holds less than one record between calls, so at most 64 KiB."""

    def __init__(self) -> None:
        self._pending = bytearray()

    def feed(self, data: bytes) -> list[Report | Descriptor]:
        """Take bytes; return the records they complete, in order."""
        self._pending += data
        records: list[Report | Descriptor] = []
        start = 0
        while (end := self._end_of_record(start)) is not None:
            records.append(_record(bytes(self._pending[start:end])))
            start = end
        del self._pending[:start]
        return records

    def flush(self) -> list[Fault]:
        """Report a record that silence has cut off."""
        raw = bytes(self._pending)
        self.reset()
        if not raw:
            return []
        reason = "the report stopped before its end"
        return [Fault(kind=FaultKind.INCOMPLETE, reason=reason, raw=raw)]

    def reset(self) -> None:
        """Forget the record in progress."""
        self._pending.clear()

    def _end_of_record(self, start: int) -> int | None:
        """Return where the record that begins at ``start`` ends; None when that has not come."""
        have = len(self._pending)
        if start >= have:
            return None
        end = start + 1 + self._pending[start]
        if self._pending[start] == 0:
            # With its length still to come, this is more than there is.
            end = start + 3 + int.from_bytes(self._pending[start + 1 : start + 3], "little")
        return end if end <= have else None


def _record(raw: bytes) -> Report | Descriptor:
    if raw[0] == 0:
        return Descriptor(data=raw[3:], raw=raw)
    return Report(data=raw[1:], raw=raw)
