"""Frames of decimal digits, four bits each: 52 bits when asked, or 28 all the time.

The 52-bit frame has thirteen digits, clocked out by the gauge when it is asked.

======= ======================================= =============================
digit   meaning                                 legal
======= ======================================= =============================
1-4     header                                  FFFF; see ``Bcd52Format``
5       sign                                    0 plus, 8 minus
6-11    number, most significant digit first    0-9; all F is off scale
12      places after the decimal point          0-5
13      unit                                    0 mm, 1 inch; see ``UnitDigit``
======= ======================================= =============================

Source: Mitutoyo LSM-6200 manual 99MBC095A, p. 6-28; measuring projector manual
99MBA043A, p. 6-12. Off scale: Mahr Maxum III manual 2239028, section 8.4. Tables that
show inch as 1000 and minus as 0001 print the bits in the order of the wire.

The first field that breaks its rule is reported, in the order of the frame. A bit that
is read twice inside the number can still give a legal frame of another value: only the
clock edge too many tells. A gauge with more digits than the frame drops some unseen.

The 28-bit frame has six digits, the **least significant digit first**, and one of flags.
In mm the number counts 0.01 mm, in inches 0.001 inch.

=== ======= ==============================================
bit flag    meaning
=== ======= ==============================================
0   N       negative
1   H       half a thousandth of an inch more
2   M       the number is in mm, otherwise in inches
3   ?       not known; a frame that has it is refused
=== ======= ==============================================

Source: robotroom.com, "BCD Digital Caliper Data Format", for the layout. The meaning of
the flags is inferred from its one example, a display of 9.8015 inch.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from gaugelink.devices.decoders.bits import (
    BitFormat,
    BitFrame,
    RefusedError,
    hex_text,
    nibbles,
    refuse_all_ones,
    signed_frame,
    whole_bits,
)
from gaugelink.model import FaultKind, Flag, Frame
from gaugelink.units import LengthUnit

BCD52_BITS = 52
_SIGN, _NUMBER, _PLACES, _UNIT = 4, slice(5, 11), 11, 12  # where they stand, from 0
_MAX_PLACES = 5

BCD7_BITS = 28
STEP_MM = Decimal("0.01")
STEP_INCH = Decimal("0.0005")
_NEGATIVE, _HALF, _METRIC, _UNKNOWN = 1, 2, 4, 8


class UnitDigit(StrEnum):
    """What the last digit may say.

    ``judged`` adds a tolerance judgement (LSM-6200 manual, p. 6-28). ``inch 8`` takes
    an 8 for inch as well, as one drawing has it (Maxum III manual, section 8.4).
    """

    PLAIN = "plain"
    JUDGED = "judged"
    INCH_8 = "inch 8"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bcd52Format(BitFormat):
    """One make's 52-bit frame.

    Args:
        digits: 6; 7 when digit 4 holds the most significant one in inch mode and F
            otherwise (Federal Products report A-274, p. 13); 8 when the header is 8 F
            and two leading digits (QM-Height manual 99MAF600B, section 6.2).
        unit_digit: what the last digit may say.
    """

    digits: int = field(default=6, metadata={"low": 6, "high": 8})
    unit_digit: UnitDigit = UnitDigit.PLAIN


def read_bcd52(frame: BitFrame, fmt: Bcd52Format) -> Frame:
    """Read a 52-bit frame.

    Raises:
        RefusedError: it breaks a rule of the format.
    """
    digits = nibbles(whole_bits(frame, BCD52_BITS))
    leading = _leading_digits(digits[:_SIGN], fmt.digits)
    negative = _is_negative(digits[_SIGN])
    number = leading + _number(digits[_NUMBER])
    places = _places(digits[_PLACES])
    unit, flags = _unit(digits[_UNIT], fmt.unit_digit)
    if fmt.digits == 7 and leading and unit is LengthUnit.MM:
        reason = f"unit {digits[_UNIT]:X} is mm, but a seventh digit is sent in inch only"
        raise RefusedError(reason)
    magnitude = Decimal((0, number, -places))
    return signed_frame(magnitude, negative=negative, unit=unit, raw=frame.raw, flags=flags)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Header:
    pattern: re.Pattern[str]  # group 1: the digits that lead the number
    words: str


_HEADERS: Mapping[int, _Header] = {
    6: _Header(pattern=re.compile("FFFF()"), words="FFFF"),
    7: _Header(pattern=re.compile("FFF(?:F|([0-9]))"), words="FFF and then F or a digit"),
    8: _Header(pattern=re.compile("8F([0-9]{2})"), words="8F and two digits"),
}


def _leading_digits(digits: Sequence[int], n_digits: int) -> tuple[int, ...]:
    shown, header = hex_text(digits), _HEADERS[n_digits]
    if match := header.pattern.fullmatch(shown):
        return tuple(int(digit) for digit in match[1] or "")
    raise RefusedError(f"header {shown} instead of {header.words}{_why(digits, n_digits)}")


def _why(digits: Sequence[int], n_digits: int) -> str:
    """Name what most likely happened to a header."""
    other = 6 if n_digits == 8 else 8
    if _HEADERS[other].pattern.fullmatch(hex_text(digits)):
        return f": that is the header of the format with {other} digits"
    mirrored = hex_text(15 - digit for digit in digits)
    if not any(digits) or _HEADERS[n_digits].pattern.fullmatch(mirrored):
        return ": the levels are inverted"
    if sum(digit.bit_count() for digit in digits) >= 12:
        return ": a bit was lost or added at the start"
    return ""


def _is_negative(digit: int) -> bool:
    if digit not in (0, 8):
        raise RefusedError(f"sign {digit:X} instead of 0 or 8")
    return digit == 8


def _number(digits: tuple[int, ...]) -> tuple[int, ...]:
    if set(digits) == {0xF}:
        reason = "all six digits are F: the gauge reports that it is off scale"
        raise RefusedError(reason, FaultKind.GAUGE_ERROR)
    for place, digit in enumerate(digits, start=_NUMBER.start + 1):
        if digit > 9:
            raise RefusedError(f"digit {place} of the frame is {digit:X} instead of 0 to 9")
    return digits


def _places(digit: int) -> int:
    if digit > _MAX_PLACES:
        raise RefusedError(f"decimal point {digit:X} instead of 0 to {_MAX_PLACES}")
    return digit


_PLAIN = {0: LengthUnit.MM, 1: LengthUnit.INCH}
_UNITS: Mapping[UnitDigit, Mapping[int, LengthUnit]] = {
    UnitDigit.PLAIN: _PLAIN,
    UnitDigit.JUDGED: {
        **_PLAIN,
        **dict.fromkeys((2, 3, 4), LengthUnit.MM),
        **dict.fromkeys((5, 6, 7), LengthUnit.INCH),
    },
    UnitDigit.INCH_8: {**_PLAIN, 8: LengthUnit.INCH},
}
_JUDGEMENTS: Mapping[int, Flag] = {
    **dict.fromkeys((2, 5), Flag.ABOVE_TOLERANCE),
    **dict.fromkeys((3, 6), Flag.WITHIN_TOLERANCE),
    **dict.fromkeys((4, 7), Flag.BELOW_TOLERANCE),
}


def _unit(digit: int, meaning: UnitDigit) -> tuple[LengthUnit, frozenset[Flag]]:
    legal = _UNITS[meaning]
    if digit not in legal:
        raise RefusedError(f"unit {digit:X} instead of {', '.join(map(str, legal))}")
    return legal[digit], frozenset({_JUDGEMENTS[digit]} if digit in _JUDGEMENTS else ())


@dataclass(frozen=True, slots=True, kw_only=True)
class Bcd7Format(BitFormat):
    """One make's 28-bit frame.

    Args:
        invert: the collector sees a 0 for each 1.
    """

    invert: bool = False


def read_bcd7(frame: BitFrame, fmt: Bcd7Format) -> Frame:
    """Read a 28-bit frame.

    Raises:
        RefusedError: it breaks a rule of the format.
    """
    bits = whole_bits(frame, BCD7_BITS, invert=fmt.invert)
    refuse_all_ones(bits)
    *digits, flags = nibbles(bits)
    shown = _shown(digits)
    _refuse_flags(flags)
    metric = bool(flags & _METRIC)
    halves = 2 * shown + bool(flags & _HALF)
    return signed_frame(
        shown * STEP_MM if metric else halves * STEP_INCH,
        negative=bool(flags & _NEGATIVE),
        unit=LengthUnit.MM if metric else LengthUnit.INCH,
        raw=frame.raw,
        step=STEP_MM if metric else STEP_INCH,
    )


def _shown(digits: list[int]) -> int:
    for place, digit in enumerate(digits, start=1):
        if digit > 9:
            raise RefusedError(f"digit {place} of the frame is {digit:X} instead of 0 to 9")
    return sum(digit * 10**power for power, digit in enumerate(digits))


def _refuse_flags(flags: int) -> None:
    if flags & _UNKNOWN:
        raise RefusedError(f"flags {flags:X}: the highest bit has no known meaning")
    if flags & _HALF and flags & _METRIC:
        raise RefusedError(f"flags {flags:X}: half a thousandth of an inch, but in mm")
