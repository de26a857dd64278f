"""From one line of text to events: full match or fault, never a guess."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from gaugelink.devices.decoders.line_format import DecimalMark, LineFormat, ReadingsPerLine
from gaugelink.model import Fault, FaultKind, Flag, Frame, Ident, WireEvent
from gaugelink.units import LengthUnit

_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)", re.ASCII)
_FOREIGN_MARK = {DecimalMark.POINT: ",", DecimalMark.COMMA: "."}


class _UnreadableError(Exception):
    """A line has the format's shape, but something in it cannot be part of a reading."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One whole line: ``raw`` as it came, ``text`` in ASCII, which begins at ``start`` in it.

    Before ``start`` stands an echo of the request, if any; after the text, the line end.
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
        return self.match.groupdict().get(name) or ""


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
    if not _NUMBER.fullmatch(digits):
        raise _UnreadableError(f"does not hold one number: {digits!r}")
    foreign = _FOREIGN_MARK.get(mark)
    if foreign and foreign in digits:
        raise _UnreadableError(f"has a decimal {foreign!r} where the format has a {mark}")
    return Decimal(digits.replace(",", "."))


def _unit(text: str, fmt: LineFormat) -> LengthUnit | None:
    if not text.strip():
        return fmt.unit_default
    if text not in fmt.units:
        raise _UnreadableError(f"has an unknown unit {text!r}")
    return fmt.units[text]


def _flags(part: _Part, fmt: LineFormat) -> frozenset[Flag]:
    flags: set[Flag] = {Flag.HELD} if part.group("held") else set()
    mark = part.group("judge").strip()
    if mark and mark not in fmt.judge:
        raise _UnreadableError(f"has an unknown tolerance mark {mark!r}")
    if mark:
        flags.add(fmt.judge[mark])
    return frozenset(flags)
