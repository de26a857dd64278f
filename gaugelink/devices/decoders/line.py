"""Lines of text from a gauge: bytes in, events out; full match or fault, never a guess.

The decoder cuts the stream at line ends, and every line is assessed alone. Where
a cut falls between two ``feed`` calls makes no difference, because only whole
lines are looked at. Between calls it holds less than one line:

- an empty line is not an event. Gauges that end lines with CR LF produce one after
  each line when the format ends them with either, and a person may press Enter twice;
- a line longer than the format allows is one fault, raised as soon as it is too
  long, with its first ``max_line_bytes`` bytes. The rest, up to the next line end,
  is dropped: it may never end (wrong baud rate, noise) and memory must not grow;
- a line that was assessed a moment ago is not assessed again: it says the same, and so do
  bytes that follow a line end. A gauge at rest sends nothing but a few lines over and over.

The named groups a format's pattern may use, and what becomes of each:

======== =====================================================================
value    digits with at most one decimal mark; the only group that must exist
sign     ``+``, ``-`` or a blank, where blanks may stand between it and value
unit     looked up in ``units``; when empty, ``unit_default`` holds
channel  becomes ``Frame.channel`` as sent
judge    a tolerance mark, looked up in ``judge``
held     anything here means that the display is frozen
battery  anything here means that the battery is low
mode     these three only say what the characters are
type
number
======== =====================================================================
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from functools import lru_cache
from itertools import pairwise

from gaugelink.model import Fault, FaultKind, Flag, Frame, Ident, WireEvent
from gaugelink.units import LengthUnit

REMEMBERED = 64  # different lines; a caliper that is rocked in a bore sends about fifty
GROUPS = frozenset(
    {"value", "sign", "unit", "channel", "judge", "held", "battery", "mode", "type", "number"}
)
COMMON_UNITS: Mapping[str, LengthUnit] = {
    "mm": LengthUnit.MM,
    "MM": LengthUnit.MM,
    "in": LengthUnit.INCH,
    "IN": LengthUnit.INCH,
}
SEVEN_BITS = bytes(byte & 0x7F for byte in range(256))  # a table for bytes.translate
_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)", re.ASCII)


class Parity(StrEnum):
    """What the parity bit makes of the number of ones in a byte, as written in ``7E2``."""

    NONE = "N"
    EVEN = "E"
    ODD = "O"


class DecimalMark(StrEnum):
    """Which decimal marks a format may use."""

    POINT = "point"
    COMMA = "comma"
    BOTH = "both"


class ReadingsPerLine(StrEnum):
    """Whether a line holds one reading, or as many as its pattern can be laid end to end."""

    ONE = "one"
    MANY = "many"


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorPattern:
    """What a gauge sends instead of a value, and what that means in plain words."""

    pattern: re.Pattern[str]
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFormat:
    r"""One gauge's lines of text.

    Args:
        pattern: what a reading looks like; must match the whole line.
        line_end: the byte strings that end a line; none is inside another. Every
            further one lets one more garbled byte cut a number short unseen.
        readings_per_line: with ``many`` the pattern is laid end to end over the line.
        unit_default: the unit when the line carries none; None when nobody has said.
        units: texts of the unit group, exactly as sent.
        decimal: which decimal marks are legal.
        judge: texts of the judge group, exactly as sent.
        step: digital step per unit, where it is not one of the last digit.
        channel: pass on only this channel; None passes all.
        error_patterns: tried before ``pattern``, so that 999999.99 can be an error.
        ident_pattern: a line in which the gauge names itself or answers a command.
        echo: the request as the gauge sends it back, removed once at the start of a line.
        strip_high_bit: bit 7 is undefined and is cleared.
        check_parity: bit 7 is the parity of the other seven, is checked and then cleared. A line
            with bit 7 clear in all its bytes passes: what carried it took the parity away.
        max_line_bytes: longest legal line without its end.
        steady_length: readings of one channel are all of one length, which the source does not
            print: one of another length counts when that length comes twice in a row.
    """

    pattern: re.Pattern[str]
    line_end: tuple[bytes, ...]
    readings_per_line: ReadingsPerLine = ReadingsPerLine.ONE
    unit_default: LengthUnit | None = None
    units: Mapping[str, LengthUnit] = field(default_factory=lambda: COMMON_UNITS)
    decimal: DecimalMark = DecimalMark.POINT
    judge: Mapping[str, Flag] = field(default_factory=dict)
    step: Mapping[LengthUnit, Decimal] = field(default_factory=dict)
    channel: str | None = None
    error_patterns: tuple[ErrorPattern, ...] = ()
    ident_pattern: re.Pattern[str] | None = None
    echo: bytes = b""
    strip_high_bit: bool = False
    check_parity: Parity = Parity.NONE
    max_line_bytes: int = 80
    steady_length: bool = False


_FOREIGN_MARK = {DecimalMark.POINT: ",", DecimalMark.COMMA: "."}


class LineDecoder:
    """Decodes one gauge's lines; see ``devices.contract.Decoder``."""

    def __init__(self, fmt: LineFormat) -> None:
        self._format = fmt
        self._ends = re.compile(b"|".join(re.escape(end) for end in fmt.line_end))
        self._half_end = max(len(end) for end in fmt.line_end) - 1
        self._seven_bits = fmt.strip_high_bit or fmt.check_parity is not Parity.NONE
        self._pending = bytearray()
        self._skipping = False  # in the tail of an overlong line
        self._lengths: dict[str, tuple[int, int]] = {}  # of a channel: the usual one, the last
        self._judged = lru_cache(maxsize=REMEMBERED)(self._judge)
        self._fed_afresh = lru_cache(maxsize=REMEMBERED)(self._feed_afresh)

    def feed(self, data: bytes) -> list[WireEvent]:
        """Take bytes; return the events they complete, in order."""
        if self._pending or self._skipping or len(data) > self._format.max_line_bytes:
            return self._steadied(self._cut(data))
        events, rest = self._fed_afresh(data)
        self._pending[:] = rest
        return self._steadied(events)

    def _steadied(self, events: Sequence[WireEvent]) -> list[WireEvent]:
        """Refuse a reading whose length is new: a character was lost or came twice."""
        if not self._format.steady_length:
            return [*events]
        return [self._steady(each) if isinstance(each, Frame) else each for each in events]

    def _steady(self, frame: Frame) -> WireEvent:
        length = len(frame.raw)
        usual, last = self._lengths.get(frame.channel, (length, length))
        usual = length if length == last else usual
        self._lengths[frame.channel] = (usual, length)
        if length == usual:
            return frame
        reason = f"{length} bytes, not {usual} as before; the same length once more counts"
        return Fault(kind=FaultKind.UNPARSED, reason=reason, raw=frame.raw)

    def _feed_afresh(self, data: bytes) -> tuple[Sequence[WireEvent], bytes]:
        """Cut what follows a line end: events and what is left depend on these bytes alone."""
        return self._cut(data), bytes(self._pending)

    def _cut(self, data: bytes) -> list[WireEvent]:
        self._pending += data
        events: list[WireEvent] = []
        start = 0
        for end in self._ends.finditer(self._cleared(self._pending)):
            if not self._skipping:
                events += self._line(bytes(self._pending[start : end.end()]), end.start() - start)
            self._skipping = False
            start = end.end()
        del self._pending[:start]
        return events + self._bound_memory()

    def flush(self) -> list[WireEvent]:
        """Report what silence has cut off; an echo without an answer is nothing."""
        raw, skipping = bytes(self._pending), self._skipping
        self._forget_line()
        content = self._cleared(raw)
        if skipping or content in (b"", self._format.echo):
            return []
        reason = f"the line stopped before its end: {content!r}"
        return [Fault(kind=FaultKind.INCOMPLETE, reason=reason, raw=raw)]

    def reset(self) -> None:
        """Forget the line in progress, and how long lines are."""
        self._forget_line()
        self._lengths.clear()

    def _forget_line(self) -> None:
        self._pending.clear()
        self._skipping = False

    def _cleared(self, raw: bytes | bytearray) -> bytes:
        return bytes(raw.translate(SEVEN_BITS) if self._seven_bits else raw)

    def _bound_memory(self) -> list[WireEvent]:
        """Give up on a line that is too long already, keeping what may be half a line end."""
        events: list[WireEvent] = []
        limit = self._format.max_line_bytes + self._half_end
        if not self._skipping and len(self._pending) > limit:
            events.append(self._overlong(bytes(self._pending)))
            self._skipping = True
        if self._skipping:
            del self._pending[: max(0, len(self._pending) - self._half_end)]
        return events

    def _line(self, raw: bytes, length: int) -> Sequence[WireEvent]:
        """Return what a line of ``length`` bytes says, which ``raw`` holds with its end."""
        if length > self._format.max_line_bytes:
            return [self._overlong(raw)]
        return self._judged(raw, length)

    def _judge(self, raw: bytes, length: int) -> Sequence[WireEvent]:
        """Judge a whole line by nothing but its own bytes."""
        wrong = first_parity_error(raw, self._format.check_parity)
        if wrong is not None:
            reason = f"parity error at byte {wrong} of the line, counted from 0"
            return [Fault(kind=FaultKind.PARITY, reason=reason, raw=raw)]
        content = self._cleared(raw)
        start = len(self._format.echo) if content.startswith(self._format.echo) else 0
        text = content[start:length]
        if not text:
            return []
        if not text.isascii():
            reason = f"{text!r} holds a byte that is not ASCII"
            return [Fault(kind=FaultKind.UNPARSED, reason=reason, raw=raw)]
        return line_events(Line(raw=raw, text=text.decode("ascii"), start=start), self._format)

    def _overlong(self, raw: bytes) -> Fault:
        limit = self._format.max_line_bytes
        reason = f"more than {limit} bytes without a line end; the rest of the line is dropped"
        return Fault(kind=FaultKind.OVERLONG, reason=reason, raw=raw[:limit])


def first_parity_error(raw: bytes, parity: Parity) -> int | None:
    """Return the position, from 0, of the first byte whose eight bits break the parity.

    Returns:
        None when every byte keeps it, when there is none to keep, and when bit 7 is clear in
        all of them: a serial server, or a port of seven data bits, hands no parity on.
    """
    # One flipped bit cannot clear bit 7 everywhere and change a digit as well.
    if parity is Parity.NONE or raw.isascii():
        return None
    ones_are_odd = parity is Parity.ODD
    wrong = (i for i, byte in enumerate(raw) if bool(byte.bit_count() % 2) is not ones_are_odd)
    return next(wrong, None)


def with_parity(data: bytes, parity: Parity) -> bytes:
    """Return seven-bit ``data`` as a port of eight data bits sends it to a gauge of seven.

    Bit 7 is the parity bit; without parity it is 1, as the first stop bit is.
    """
    if parity is Parity.NONE:
        return bytes(byte | 0x80 for byte in data)
    odd = parity is Parity.ODD
    return bytes(byte | (byte.bit_count() + odd) % 2 << 7 for byte in data)


class _UnreadableError(Exception):
    """A line has the format's shape, but something in it cannot be part of a reading."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One whole line: ``raw`` as it came, ``text`` in ASCII, which begins at ``start`` in it.

    Before ``start`` comes an echo of the request, if any; after the text, the line end.
    """

    raw: bytes
    text: str
    start: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """One stretch of a line: a reading, or what the gauge sends in place of one."""

    match: re.Match[str]
    error_text: str | None = None

    def group(self, name: str) -> str:
        """Return what a named group holds, empty when the pattern has no such group."""
        return self.match[name] or "" if name in self.match.re.groupindex else ""


def line_events(line: Line, fmt: LineFormat) -> list[WireEvent]:
    """Return what one line says: a reading for each selected channel, or one other event.

    A line that is only partly a reading is a fault as a whole. When a line holds
    several readings, each event takes its own share of the raw bytes.
    """
    if fmt.ident_pattern and fmt.ident_pattern.fullmatch(line.text):
        return [Ident(text=line.text, raw=line.raw)]
    try:
        parts = _cover(line.text, fmt)
        pieces = zip(parts, _share(line, parts), strict=True)
        return [_event(p, raw, fmt) for p, raw in pieces if _is_selected(p, fmt)]
    except _UnreadableError as why:
        reason = f"{line.text!r} {why}"
        return [Fault(kind=FaultKind.UNPARSED, reason=reason, raw=line.raw)]


def _cover(text: str, fmt: LineFormat) -> list[_Part]:
    """Lay the format's patterns end to end over the whole text."""
    parts: list[_Part] = []
    position = 0
    while position < len(text):
        part = _part_at(position, text, fmt)
        if part is None or part.match.end() == position:
            raise _UnreadableError("is not a line of this format")
        parts.append(part)
        position = part.match.end()
    channels = [part.group("channel") for part in parts]
    if len(set(channels)) < len(channels):
        raise _UnreadableError("names one channel twice")
    return parts


def _part_at(position: int, text: str, fmt: LineFormat) -> _Part | None:
    many = fmt.readings_per_line is ReadingsPerLine.MANY
    find = re.Pattern.match if many else re.Pattern.fullmatch
    for error in fmt.error_patterns:
        if match := find(error.pattern, text, position):
            return _Part(match=match, error_text=error.text)
    match = find(fmt.pattern, text, position)
    return _Part(match=match) if match else None


def _share(line: Line, parts: Sequence[_Part]) -> list[bytes]:
    """Divide the raw bytes: the first part takes the echo too, the last part the line end."""
    cuts = [line.start + part.match.start() for part in parts[1:]]
    edges = [0, *cuts, len(line.raw)]
    return [line.raw[a:b] for a, b in pairwise(edges)]


def _is_selected(part: _Part, fmt: LineFormat) -> bool:
    return fmt.channel is None or part.group("channel") == fmt.channel


def _event(part: _Part, raw: bytes, fmt: LineFormat) -> WireEvent:
    if part.error_text is not None:
        return Fault(kind=FaultKind.GAUGE_ERROR, reason=part.error_text, raw=raw)
    value = _value(part, fmt.decimal)
    unit = _unit(part.group("unit"), fmt)
    flags = _flags(part, fmt)
    if value.is_zero() and value.is_signed():
        value, flags = value.copy_abs(), flags | {Flag.NEGATIVE_ZERO}
    return Frame(
        value=value,
        unit=unit,
        raw=raw,
        channel=part.group("channel"),
        flags=flags,
        step=fmt.step.get(unit) if unit else None,
    )


def _value(part: _Part, mark: DecimalMark) -> Decimal:
    digits = part.group("sign").strip() + part.group("value")
    if mark is DecimalMark.BOTH:
        digits = _with_one_mark(digits)
    if not _NUMBER.fullmatch(digits):
        raise _UnreadableError(f"does not hold one number: {digits!r}")
    foreign = _FOREIGN_MARK.get(mark)
    if foreign and foreign in digits:
        raise _UnreadableError(f"has a decimal {foreign!r} where the format has a {mark}")
    return Decimal(digits.replace(",", "."))


def _with_one_mark(digits: str) -> str:
    """Drop a mark that ends a number, and the first of two different ones: thousands."""
    marks = [character for character in digits if character in ".,"]
    thousands = marks[0] if len(marks) == 2 and marks[0] != marks[1] else ""
    return (digits.replace(thousands, "") if thousands else digits).rstrip(".,")


def _unit(text: str, fmt: LineFormat) -> LengthUnit | None:
    if not text.strip():
        return fmt.unit_default
    if text not in fmt.units:
        raise _UnreadableError(f"has an unknown unit {text!r}")
    return fmt.units[text]


def _flags(part: _Part, fmt: LineFormat) -> frozenset[Flag]:
    flags: set[Flag] = {Flag.HELD} if part.group("held") else set()
    if part.group("battery").strip():
        flags.add(Flag.LOW_BATTERY)
    mark = part.group("judge").strip()
    if mark and mark not in fmt.judge:
        raise _UnreadableError(f"has an unknown tolerance mark {mark!r}")
    if mark:
        flags.add(fmt.judge[mark])
    return frozenset(flags)
