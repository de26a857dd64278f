"""The 24-bit frame of low-cost calipers: sign and magnitude, sent all the time, unasked.

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
Authors who count from a constant start bit call the sign bit 21.

There is no header, no check and no request, so a value passes only when two bursts in a
row are equal (``equal_pair``). All ones is what an idle line gives and no value.

The 2x24-bit frame of older scales: an absolute and a relative word of counts.

48 bits, two words of 24, the least significant bit first, 20480 counts per inch. The
relative word counts from where the gauge was last zeroed; the absolute one from
wherever it stood when its battery was changed.

Published descriptions disagree on the order of the words, on how a negative number is
written and on the levels, so all three belong to the format. Press zero: the word that
becomes 0 is the relative one.

Source: shumatech.com, "21bit protocol" (20480 per inch, absolute first);
model-engineer.co.uk forum, "Oscilloscope kits" (absolute first, two's complement,
inverted lines); electronicsproproject.blogspot.com, 2010-02 (relative first, one's
complement).

The 21-bit frame of scales that wait for a clock from the host.

One word of counts, the least significant bit first, 2560 counts per inch. Source:
shumatech.com, "21bit protocol". How a negative number is written was not found; two's
complement is assumed (from memory).

All ones is refused, because a scale that is unplugged gives it for ever; -1 count, about
0.01 mm below zero, is lost with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from gaugelink.devices.decoders.bits import (
    BitFormat,
    BitFrame,
    Complement,
    EqualPair,
    RefusedError,
    counts_frame,
    event_of,
    number,
    refuse_all_ones,
    signed_frame,
    whole_bits,
)
from gaugelink.model import FaultKind, Frame, WireEvent
from gaugelink.units import LengthUnit

SIGNMAG24_BITS = 24
_MAGNITUDE, _SIGN, _RESERVED, _UNIT = slice(0, 20), 20, slice(21, 23), 23


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


class SignMag24Decoder:
    """Decodes one gauge's 24-bit frames; see ``bits.BitDecoder``."""

    def __init__(self, fmt: SignMag24Format) -> None:
        self._format = fmt
        self._pair = EqualPair()

    def decode(self, frame: BitFrame) -> list[WireEvent]:
        """Return the value of a burst that equals the one before, or why it is none."""
        return self._pair.judge(frame, event_of(frame, self._read))

    def reset(self) -> None:
        """Forget the burst before."""
        self._pair.reset()

    def _read(self, frame: BitFrame) -> Frame:
        bits = self._word(frame)
        refuse_all_ones(bits)
        _refuse_reserved(bits[_RESERVED])
        unit = self._unit(bits[_UNIT])
        step = self._format.step_mm if unit is LengthUnit.MM else self._format.step_inch
        return signed_frame(
            number(bits[_MAGNITUDE]) * step,
            negative=bool(bits[_SIGN]),
            unit=unit,
            raw=frame.raw,
            step=step,
        )

    def _word(self, frame: BitFrame) -> tuple[int, ...]:
        """Return the 24 bits, without the start bit if there is one."""
        n_start = int(self._format.start_bit)
        bits = whole_bits(frame, SIGNMAG24_BITS + n_start, invert=self._format.invert)
        if n_start and not bits[0]:
            raise RefusedError("the start bit is 0 instead of 1")
        return bits[n_start:]

    def _unit(self, bit: int) -> LengthUnit:
        if self._format.unit_bit:
            return LengthUnit.INCH if bit else LengthUnit.MM
        if bit:
            raise RefusedError("bit 23 is 1, though the format has no unit bit")
        if self._format.unit_default is None:
            reason = "the frame does not say mm or inch, and without it has no value"
            raise RefusedError(reason, FaultKind.NO_UNIT)
        return self._format.unit_default


def _refuse_reserved(bits: tuple[int, ...]) -> None:
    if any(bits):
        hint = ": the levels are inverted" if all(bits) else ""
        raise RefusedError(f"reserved bits 21 and 22 are {bits[0]} and {bits[1]}{hint}")


ABS_REL_48_BITS = 48
ABS_REL_48_COUNTS_PER_INCH = 20480


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


class AbsRel48Decoder:
    """Decodes one gauge's 2x24-bit frames; see ``bits.BitDecoder``."""

    def __init__(self, fmt: AbsRel48Format) -> None:
        self._format = fmt

    def decode(self, frame: BitFrame) -> list[WireEvent]:
        """Return the value of one burst, or why it is none."""
        return [event_of(frame, self._read)]

    def reset(self) -> None:
        """Do nothing: every burst stands alone."""

    def _read(self, frame: BitFrame) -> Frame:
        fmt = self._format
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


HOST_CLOCKED21_BITS = 21
HOST_CLOCKED21_COUNTS_PER_INCH = 2560


@dataclass(frozen=True, slots=True, kw_only=True)
class HostClocked21Format(BitFormat):
    """One make's 21-bit frame.

    Args:
        invert: the collector sees a 0 for each 1.
        unit_default: the unit to give the counts in.
    """

    invert: bool = False
    unit_default: LengthUnit = LengthUnit.MM


class HostClocked21Decoder:
    """Decodes one scale's 21-bit frames; see ``bits.BitDecoder``."""

    def __init__(self, fmt: HostClocked21Format) -> None:
        self._format = fmt

    def decode(self, frame: BitFrame) -> list[WireEvent]:
        """Return the value of one burst, or why it is none."""
        return [event_of(frame, self._read)]

    def reset(self) -> None:
        """Do nothing: every burst stands alone."""

    def _read(self, frame: BitFrame) -> Frame:
        bits = whole_bits(frame, HOST_CLOCKED21_BITS, invert=self._format.invert)
        refuse_all_ones(bits)
        return counts_frame(
            bits,
            complement=Complement.TWO,
            per_inch=HOST_CLOCKED21_COUNTS_PER_INCH,
            unit=self._format.unit_default,
            raw=frame.raw,
        )
