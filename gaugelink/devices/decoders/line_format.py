"""What a gauge's lines of text look like: the data that one ``LineDecoder`` works from.

The named groups a pattern may use, and what becomes of each:

======== =====================================================================
value    digits with at most one decimal mark; the only group that must exist
sign     ``+``, ``-`` or a blank, where blanks may stand between it and value
unit     looked up in ``units``; when empty, ``unit_default`` holds
channel  becomes ``Frame.channel`` as sent
judge    a tolerance mark, looked up in ``judge``
held     anything here means that the display is frozen
mode     these three only say what the characters are
type
number
======== =====================================================================
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from gaugelink.devices.decoders.parity import Parity
from gaugelink.model import Flag
from gaugelink.units import LengthUnit

GROUPS = frozenset({"value", "sign", "unit", "channel", "judge", "held", "mode", "type", "number"})

COMMON_UNITS: Mapping[str, LengthUnit] = {
    "mm": LengthUnit.MM,
    "MM": LengthUnit.MM,
    "in": LengthUnit.INCH,
    "IN": LengthUnit.INCH,
}


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
        line_end: the byte strings that end a line; none stands inside another. Every
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
        check_parity: bit 7 is the parity of the other seven, is checked and then cleared.
        max_line_bytes: longest legal line without its end.
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
