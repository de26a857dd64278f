"""Readings that a HID keyboard types: framed reports in, events out.

Keys become characters, characters a line, and the line decoder judges the line as any
other text. A line in which a key could not be read is a fault as a whole, because what
is left of its number would pass for another one.
"""

from __future__ import annotations

from dataclasses import replace

from gaugelink.devices.decoders.hid_descriptor import parse_descriptor
from gaugelink.devices.decoders.hid_format import HidKeysFormat, KeyboardLayout
from gaugelink.devices.decoders.hid_key_state import (
    BOOT_KEYBOARD,
    KeyState,
    Presses,
    key_fields,
)
from gaugelink.devices.decoders.hid_layouts import DIGIT_ROW, LINE_ENDS, SHIFTS, character
from gaugelink.devices.decoders.hid_stream import Descriptor, Report, ReportStream
from gaugelink.devices.decoders.line import LineDecoder
from gaugelink.errors import DeviceError
from gaugelink.model import Fault, FaultKind, WireEvent

__all__ = ["HidKeysDecoder", "HidKeysFormat"]

MAX_LINE_RAW_BYTES = 8192  # 60 characters of a keyboard with 64-byte reports


class HidKeysDecoder:
    """Decodes one gauge's key presses; see ``devices.contract.Decoder``.

    Without a descriptor the reports are those of a boot keyboard (HID 1.11, B.1). The
    raw bytes of an event are the reports of its line, without repeats.
    """

    def __init__(self, fmt: HidKeysFormat) -> None:
        self._format = fmt
        self._stream = ReportStream()
        self._line = LineDecoder(fmt.line)
        self._end = fmt.line.line_end[0]
        self._forget_descriptor()
        self._forget_line()

    def feed(self, data: bytes) -> list[WireEvent]:
        """Take bytes; return the events they complete, in order."""
        events: list[WireEvent] = []
        for record in self._stream.feed(data):
            if isinstance(record, Descriptor):
                events += self._finish(ended=False)
                self._learn(record)
            else:
                events += self._report(record)
        return events

    def flush(self) -> list[WireEvent]:
        """Report what silence has cut off, or take it for whole where the format says so."""
        return [*self._finish(ended=self._format.ends_on_silence), *self._stream.flush()]

    def reset(self) -> None:
        """Forget the line in progress, the keys that are down and the descriptor."""
        self._stream.reset()
        self._forget_descriptor()
        self._forget_line()

    def _forget_descriptor(self) -> None:
        self._descriptor = BOOT_KEYBOARD
        self._keys = KeyState(BOOT_KEYBOARD.fields)
        self._unreadable = ""

    def _forget_line(self) -> None:
        self._text = ""
        self._raw = bytearray()
        self._last = b""
        self._wrong = ""  # why the line cannot be a reading
        self._skipping = False  # in the tail of an overlong line

    def _learn(self, record: Descriptor) -> None:
        self._forget_descriptor()
        try:
            self._descriptor = parse_descriptor(record.data)
        except DeviceError as error:
            self._unreadable = str(error)
            return
        fields = key_fields(self._descriptor)
        self._keys = KeyState(fields)
        if not fields:
            self._unreadable = "this interface of the gauge has no keys (usage page 0x07)"

    def _report(self, report: Report) -> list[WireEvent]:
        if self._unreadable:
            return [Fault(kind=FaultKind.UNPARSED, reason=self._unreadable, raw=report.raw)]
        body = self._descriptor.body(report.data)
        if self._keys.is_cut(body):
            self._spoil("a report ends before its keys do")
            return self._collect(report)
        presses = self._keys.take(body)
        if not presses.keys:
            return self._collect(report) if self._raw else []
        events: list[WireEvent] = []
        for key in presses.keys:
            # Again for each key: the one before may have ended its line.
            events += self._collect(report)
            events += self._key(key, presses)
        return events

    def _collect(self, report: Report) -> list[WireEvent]:
        """Keep the bytes of the line; a repeated report adds nothing to it."""
        if self._skipping or report.raw == self._last:
            return []
        self._raw += report.raw
        self._last = report.raw
        if len(self._raw) <= MAX_LINE_RAW_BYTES:
            return []
        raw = bytes(self._raw[:MAX_LINE_RAW_BYTES])
        self._forget_line()
        self._skipping = True
        reason = f"more than {MAX_LINE_RAW_BYTES} bytes of key reports without a line end"
        return [Fault(kind=FaultKind.OVERLONG, reason=reason, raw=raw)]

    def _key(self, key: int, presses: Presses) -> list[WireEvent]:
        if len(presses.keys) > 1 and not self._format.in_array_order:
            self._spoil(f"{len(presses.keys)} keys went down at once: which came first?")
        if presses.modifiers - SHIFTS:
            self._spoil(f"key {key:#04x} was pressed with Ctrl, Alt or the like")
        if LINE_ENDS.get(key) in self._format.line_ends:
            return self._finish(ended=True)
        if self._skipping:
            return []
        shift = bool(presses.modifiers & SHIFTS)
        typed = character(key, shift=shift, layout=self._format.layout)
        if not typed:
            self._spoil(_unmapped(key, shift, self._format.layout))
        self._text += typed
        return []

    def _spoil(self, why: str) -> None:
        self._wrong = self._wrong or why

    def _finish(self, *, ended: bool) -> list[WireEvent]:
        """Judge the line so far: whole when ``ended`` by a key or by silence."""
        text, raw, wrong = self._text, bytes(self._raw), self._wrong
        skipping = self._skipping
        self._forget_line()
        if skipping:
            return []
        if wrong:
            reason = f"{wrong}; the rest of the line was {text!r}"
            return [Fault(kind=FaultKind.UNPARSED, reason=reason, raw=raw)]
        if not text:
            return []
        events = self._line.feed(text.encode("ascii") + (self._end if ended else b""))
        events += self._line.flush()
        return [replace(event, raw=raw) for event in events]


def _unmapped(key: int, shift: bool, layout: KeyboardLayout) -> str:
    how = "with" if shift else "without"
    if layout is KeyboardLayout.FR and key in DIGIT_ROW:
        return (
            f"digit key {key:#04x} without shift types no digit in the {layout} layout: "
            "is the gauge set for another one?"
        )
    return f"key {key:#04x} {how} shift types nothing in the {layout} layout"
