"""Frames that count steps of a scale: 24 bits, twice 24 bits, or 21 bits.

The 24-bit frame of low-cost calipers, sign and magnitude, is sent all the time, unasked.

===== ==================================================================
bit   meaning; bit 0 is the first on the wire
===== ==================================================================
0-19  magnitude in steps: 0.01 mm, or 0.0005 inch
20    1 is negative
21-22 always 0
23    1 is inch, on makes that have a unit bit
===== ==================================================================

Source: hobby measurements; sites.google.com/site/marthalprojects, "Arduino reads digital
caliper" (mm); github.com/eadf/esp8266_bitseq, wiki page "caliper" (inch, unit bit).
Authors who count from a constant start bit call the sign bit 21. There is no header, no
check and no request, so two bursts in a row must be equal (``bits.EqualPair``).

The 2x24-bit frame of older scales has an absolute and a relative word, the least
significant bit first, 20480 counts per inch. The relative word counts from where the
gauge was last zeroed; the absolute one from wherever it stood when its battery was
changed. Published descriptions disagree on the order of the words, on how a negative
number is written and on the levels, so all three belong to the format. Press zero: the
word that becomes 0 is the relative one.

Source: shumatech.com, "21bit protocol" (20480 per inch, absolute first);
model-engineer.co.uk forum, "Oscilloscope kits" (absolute first, two's complement,
inverted lines); electronicsproproject.blogspot.com, 2010-02 (relative first, one's
complement).

The 21-bit frame of scales that wait for a clock from the host is one word of counts, the
least significant bit first, 2560 per inch. Source: shumatech.com, "21bit protocol". How a
negative number is written was not found; two's complement is assumed (from memory).

All ones is what an idle or unplugged line gives for ever, and no value; the 21-bit frame
loses -1 count, about 0.01 mm below zero, with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from gaugelink.devices.decoders.bits import (
    BitFormat,
    BitFrame,
    Complement,
    RefusedError,
    counts_frame,
    number,
    refuse_all_ones,
    signed_frame,
    whole_bits,
)
from gaugelink.model import FaultKind, Frame
from gaugelink.units import LengthUnit

SIGNMAG24_BITS = 24
_MAGNITUDE, _SIGN, _RESERVED, _UNIT = slice(0, 20), 20, slice(21, 23), 23
ABS_REL_48_BITS, ABS_REL_48_COUNTS_PER_INCH = 48, 20480
HOST_CLOCKED21_BITS, HOST_CLOCKED21_COUNTS_PER_INCH = 21, 2560


@dataclass(frozen=True, slots=True, kw_only=True)
class SignMag24Format(BitFormat):
    """One make's 24-bit frame.

    Args:
        invert: the collector sees a 0 for each 1, as behind one transistor a line.
        start_bit: a constant 1 comes first, so that a burst has 25 bits.
        step_mm: length of one step in mm mode, in mm.
        step_inch: length of one step in inch mode, in inches.
        unit_bit: bit 23 tells the unit; without it bit 23 must be 0.
        unit_default: the unit of a gauge without a unit bit; None when nobody has said.
    """

    invert: bool = False
    start_bit: bool = False
    step_mm: Decimal = Decimal("0.01")
    step_inch: Decimal = Decimal("0.0005")
    unit_bit: bool = True
    unit_default: LengthUnit | None = None

    def contradiction(self) -> tuple[str, str] | None:
        """Refuse a stated unit where the frames tell it."""
        if self.unit_bit and self.unit_default:
            return "unit_default", "bit 23 tells the unit; write unit_bit = false if it does not."
        return None


def read_signmag24(frame: BitFrame, fmt: SignMag24Format) -> Frame:
    """Read a 24-bit frame; two equal ones in a row make a value.

    Raises:
        RefusedError: it breaks a rule of the format, or does not say its unit.
    """
    bits = _word(frame, fmt)
    refuse_all_ones(bits)
    _refuse_reserved(bits[_RESERVED])
    unit = _unit_of(bits[_UNIT], fmt)
    step = fmt.step_mm if unit is LengthUnit.MM else fmt.step_inch
    magnitude, negative = number(bits[_MAGNITUDE]) * step, bool(bits[_SIGN])
    return signed_frame(magnitude, negative=negative, unit=unit, raw=frame.raw, step=step)


def _word(frame: BitFrame, fmt: SignMag24Format) -> tuple[int, ...]:
    """Return the 24 bits, without the start bit if there is one."""
    n_start = int(fmt.start_bit)
    bits = whole_bits(frame, SIGNMAG24_BITS + n_start, invert=fmt.invert)
    if n_start and not bits[0]:
        raise RefusedError("the start bit is 0 instead of 1")
    return bits[n_start:]


def _unit_of(bit: int, fmt: SignMag24Format) -> LengthUnit:
    if fmt.unit_bit:
        return LengthUnit.INCH if bit else LengthUnit.MM
    if bit:
        raise RefusedError("bit 23 is 1, though the format has no unit bit")
    if fmt.unit_default is None:
        reason = "the frame does not say mm or inch, so it has no value"
        raise RefusedError(reason, FaultKind.NO_UNIT)
    return fmt.unit_default


def _refuse_reserved(bits: tuple[int, ...]) -> None:
    if any(bits):
        hint = ": the levels are inverted" if all(bits) else ""
        raise RefusedError(f"reserved bits 21 and 22 are {bits[0]} and {bits[1]}{hint}")


class Word(StrEnum):
    """The two numbers in a frame."""

    ABSOLUTE = "absolute"
    RELATIVE = "relative"


@dataclass(frozen=True, slots=True, kw_only=True)
class AbsRel48Format(BitFormat):
    """One make's 2x24-bit frame.

    Args:
        first_word: which of the two comes first.
        word: which of the two is the reading.
        complement: how a negative number is written.
        invert: the collector sees a 0 for each 1.
        unit_default: the unit to give the counts in.
    """

    first_word: Word = Word.ABSOLUTE
    word: Word = Word.RELATIVE
    complement: Complement = Complement.TWO
    invert: bool = False
    unit_default: LengthUnit = LengthUnit.MM


def read_abs_rel_48(frame: BitFrame, fmt: AbsRel48Format) -> Frame:
    """Read a 2x24-bit frame.

    Raises:
        RefusedError: bits are missing, too many or in doubt.
    """
    bits = whole_bits(frame, ABS_REL_48_BITS, invert=fmt.invert)
    refuse_all_ones(bits)
    half = ABS_REL_48_BITS // 2
    return counts_frame(
        bits[:half] if fmt.word is fmt.first_word else bits[half:],
        complement=fmt.complement,
        per_inch=ABS_REL_48_COUNTS_PER_INCH,
        unit=fmt.unit_default,
        raw=frame.raw,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class HostClocked21Format(BitFormat):
    """One make's 21-bit frame.

    Args:
        invert: the collector sees a 0 for each 1.
        unit_default: the unit to give the counts in.
    """

    invert: bool = False
    unit_default: LengthUnit = LengthUnit.MM


def read_host_clocked21(frame: BitFrame, fmt: HostClocked21Format) -> Frame:
    """Read a 21-bit frame.

    Raises:
        RefusedError: bits are missing, too many or in doubt.
    """
    bits = whole_bits(frame, HOST_CLOCKED21_BITS, invert=fmt.invert)
    refuse_all_ones(bits)
    return counts_frame(
        bits,
        complement=Complement.TWO,
        per_inch=HOST_CLOCKED21_COUNTS_PER_INCH,
        unit=fmt.unit_default,
        raw=frame.raw,
    )
