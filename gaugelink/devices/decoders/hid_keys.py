"""Readings that a HID keyboard types: framed reports in, events out.

Keys become characters, characters a line, and the line decoder judges the line as any
other text. A line in which a key could not be read is a fault as a whole, because what
is left of its number would pass for another one.

A key counts when it is in this report and was not in the one before, so a key that is
held counts once, and the same digit twice needs a report without it in between.

HID sends positions on the keyboard page (0x07), whatever is printed on the key; the
layout says what they mean. The letters and the top row of the US layout are those of the
HID Usage Tables; the keypad and the other two layouts are from memory, and only as far as
numbers and units go. Keys for accents and other characters beyond ASCII type nothing.

A profile with ``decoder = "hid-keys"`` has a table ``[line]`` for what the keys spell, as
any other text, and may have ``[hid_keys]``::

    layout = "us"                           # or "de", "fr": what the gauge is set for
    line_ends = ["enter", "keypad enter", "tab"]
    ends_on_silence = false                 # the gap rule, for gauges that press no end key
    in_array_order = false
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from gaugelink.devices.decoders import hid_descriptor
from gaugelink.devices.decoders.line import LineDecoder, LineFormat
from gaugelink.errors import DeviceError
from gaugelink.model import Fault, FaultKind, WireEvent

MAX_LINE_RAW_BYTES = 8192  # 60 characters of a keyboard with 64-byte reports
KEYBOARD_PAGE = 0x07 << 16
# ErrorRollOver, POSTFail, ErrorUndefined: the keyboard cannot tell which keys are down.
_ERRORS = frozenset({0x01, 0x02, 0x03})
SHIFTS = frozenset({0xE1, 0xE5})
MODIFIERS = range(0xE0, 0xE8)
DIGIT_ROW = range(0x1E, 0x28)
_NOTHING = "\0"
_KEYPAD = {0x54: "/*-+", 0x59: "1234567890.", 0x85: ","}
_SPACE = {0x2C: " "}


class KeyboardLayout(StrEnum):
    """The keyboard layout that a gauge is set to type on; not that of the computer."""

    US = "us"
    DE = "de"
    FR = "fr"


class KeyLineEnd(StrEnum):
    """A key that may end a line."""

    ENTER = "enter"
    KEYPAD_ENTER = "keypad enter"
    TAB = "tab"


@dataclass(frozen=True, slots=True, kw_only=True)
class HidKeysFormat:
    """How a gauge types its readings.

    Args:
        line: what a typed line looks like; its line ends are not looked at, as keys end it.
        layout: what the gauge is set for.
        line_ends: the keys that end a line.
        ends_on_silence: a line also ends when the gauge falls silent. Only for gauges
            that press no end key: a pause inside 11.52 would make two numbers of it.
        in_array_order: keys that go down in one and the same report count in the order
            in which they stand in it. HID leaves that order undefined, so such a line
            is otherwise a fault.
    """

    line: LineFormat
    layout: KeyboardLayout = KeyboardLayout.US
    line_ends: frozenset[KeyLineEnd] = frozenset(KeyLineEnd)
    ends_on_silence: bool = False
    in_array_order: bool = False


class HidKeysDecoder:
    """Decodes one gauge's key presses; see ``devices.contract.Decoder``.

    Without a descriptor the reports are those of a boot keyboard (HID 1.11, B.1). The
    raw bytes of an event are the reports of its line, without repeats.
    """

    def __init__(self, fmt: HidKeysFormat) -> None:
        self._format = fmt
        self._stream = hid_descriptor.ReportStream()
        self._line = LineDecoder(fmt.line)
        self._end = fmt.line.line_end[0]
        self._forget_descriptor()
        self._forget_line()

    def feed(self, data: bytes) -> list[WireEvent]:
        """Take bytes; return the events they complete, in order."""
        events: list[WireEvent] = []
        for record in self._stream.feed(data):
            if isinstance(record, hid_descriptor.Descriptor):
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

    def _learn(self, record: hid_descriptor.Descriptor) -> None:
        self._forget_descriptor()
        try:
            self._descriptor = hid_descriptor.parse_descriptor(record.data)
        except DeviceError as error:
            self._unreadable = str(error)
            return
        fields = key_fields(self._descriptor)
        self._keys = KeyState(fields)
        if not fields:
            self._unreadable = "this interface of the gauge has no keys (usage page 0x07)"

    def _report(self, report: hid_descriptor.Report) -> list[WireEvent]:
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

    def _collect(self, report: hid_descriptor.Report) -> list[WireEvent]:
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Presses:
    """Keys that went down with one report, in its order, and the modifiers held with them."""

    keys: tuple[int, ...]
    modifiers: frozenset[int]


class KeyState:
    """Follows the keys of one device, each of its reports by itself."""

    def __init__(self, fields: Iterable[hid_descriptor.HidField]) -> None:
        self._fields: dict[int, list[hid_descriptor.HidField]] = {}
        for field in fields:
            self._fields.setdefault(field.report_id, []).append(field)
        self._down: dict[int, frozenset[int]] = {}

    def is_cut(self, body: hid_descriptor.ReportBody) -> bool:
        """Tell whether a report ends before its keys do."""
        fields = self._fields.get(body.report_id, [])
        return any(field.end_bit > body.n_bits for field in fields)

    def take(self, body: hid_descriptor.ReportBody) -> Presses:
        """Note the keys of a report; return those that went down with it.

        A report that says it cannot tell changes nothing.
        """
        fields = self._fields.get(body.report_id, [])
        now = [usage for field in fields for usage in _keys_on(field, body)]
        if not fields or _ERRORS.intersection(now):
            return Presses(keys=(), modifiers=frozenset())
        before = self._down.get(body.report_id, frozenset())
        self._down[body.report_id] = frozenset(now)
        held = frozenset().union(*self._down.values())
        new = dict.fromkeys(key for key in now if key not in before and key not in MODIFIERS)
        return Presses(keys=tuple(new), modifiers=held.intersection(MODIFIERS))


def key_fields(descriptor: hid_descriptor.ReportDescriptor) -> tuple[hid_descriptor.HidField, ...]:
    """Return the input fields that have usages of the keyboard page."""
    return tuple(
        field
        for field in descriptor.inputs()
        if any(KEYBOARD_PAGE <= each.last < KEYBOARD_PAGE + 0x10000 for each in field.usages)
    )


def _keys_on(field: hid_descriptor.HidField, body: hid_descriptor.ReportBody) -> Iterator[int]:
    """Yield the usages, on the keyboard page, of the keys that are down in a field."""
    values = (
        body.value(field.bit_offset + i * field.bit_size, field.bit_size)
        for i in range(field.count)
    )
    if field.is_variable:
        pairs = zip(values, field.element_usages(), strict=True)
        usages = (usage for value, usage in pairs if value)
    else:
        usages = (field.usage_on(value) for value in values)
    # The first usage of the page is "no key", which is what an empty place holds.
    return (u - KEYBOARD_PAGE for u in usages if 0 < u - KEYBOARD_PAGE < 0x10000)


def _boot_field(
    bit_offset: int, bit_size: int, count: int, first: int, last: int
) -> hid_descriptor.HidField:
    return hid_descriptor.HidField(
        kind=hid_descriptor.FieldKind.INPUT,
        report_id=0,
        bit_offset=bit_offset,
        bit_size=bit_size,
        count=count,
        usages=(hid_descriptor.UsageRange(first=KEYBOARD_PAGE + first, last=KEYBOARD_PAGE + last),),
        limits=hid_descriptor.FieldLimits(logical_max=last - first),
        is_variable=bit_size == 1,
    )


# HID 1.11, appendix B.1: eight modifier bits, a byte that is reserved, six keys.
BOOT_KEYBOARD = hid_descriptor.ReportDescriptor(
    fields=(_boot_field(0, 1, 8, 0xE0, 0xE7), _boot_field(16, 8, 6, 0x00, 0xFF))
)
LINE_ENDS: Mapping[int, KeyLineEnd] = {
    0x28: KeyLineEnd.ENTER,
    0x2B: KeyLineEnd.TAB,
    0x58: KeyLineEnd.KEYPAD_ENTER,
}


def character(usage: int, *, shift: bool, layout: KeyboardLayout) -> str:
    """Return the character that a key types, empty when it types none that is known.

    Args:
        usage: of the key, without its usage page.
        shift: a shift key is held; the keypad then types nothing.
        layout: what the gauge is set for.
    """
    return (_SHIFTED if shift else _PLAIN)[layout].get(usage, "")


def _spread(rows: Mapping[int, str]) -> dict[int, str]:
    """Give each character of a row its own usage, counted up from that of the row."""
    return {
        first + i: character
        for first, row in rows.items()
        for i, character in enumerate(row)
        if character != _NOTHING
    }


_PLAIN: Mapping[KeyboardLayout, Mapping[int, str]] = {
    layout: _spread(rows | _KEYPAD | _SPACE)
    for layout, rows in {
        KeyboardLayout.US: {
            0x04: "abcdefghijklmnopqrstuvwxyz",
            0x1E: "1234567890",
            0x2D: "-=[]\\",
            0x33: ";'`,./",
        },
        KeyboardLayout.DE: {
            0x04: "abcdefghijklmnopqrstuvwxzy",
            0x1E: "1234567890",
            0x30: "+",
            0x36: ",.-",
        },
        # The digit row types digits with shift only; & and the like are left out, so that
        # a gauge set for another layout is noticed.
        KeyboardLayout.FR: {
            0x04: "qbcdefghijkl,noparstuvzxyw",
            0x1E: '\0\0"\0\0-\0\0\0\0',
            0x2E: "=",
            0x33: "m",
            0x36: ";:",
        },
    }.items()
}
_SHIFTED: Mapping[KeyboardLayout, Mapping[int, str]] = {
    layout: _spread(rows | _SPACE)
    for layout, rows in {
        KeyboardLayout.US: {
            0x04: "ABCDEFGHIJKLMNOPQRSTUVWXYZ",
            0x1E: "!@#$%^&*()",
            0x2D: "_+{}|",
            0x33: ':"~<>?',
        },
        KeyboardLayout.DE: {
            0x04: "ABCDEFGHIJKLMNOPQRSTUVWXZY",
            0x1E: '!"\0$%&/()=',
            0x2D: "?",
            0x30: "*",
            0x36: ";:_",
        },
        KeyboardLayout.FR: {
            0x04: "QBCDEFGHIJKL?NOPARSTUVZXYW",
            0x1E: "1234567890",
            0x2E: "+",
            0x33: "M",
            0x36: "./",
        },
    }.items()
}
