"""The 2x24-bit frame of older scales: an absolute and a relative word of counts.

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
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from gaugelink.devices.decoders.bits import BitFrame
from gaugelink.devices.decoders.burst import event_of, refuse_all_ones, whole_bits
from gaugelink.devices.decoders.counts import Complement, counts_frame
from gaugelink.model import Frame, WireEvent
from gaugelink.units import LengthUnit

N_BITS = 48
COUNTS_PER_INCH = 20480


class Word(StrEnum):
    """The two numbers in a frame."""

    ABSOLUTE = "absolute"
    RELATIVE = "relative"


@dataclass(frozen=True, slots=True, kw_only=True)
class AbsRel48Format:
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
        bits = whole_bits(frame, N_BITS, invert=fmt.invert)
        refuse_all_ones(bits)
        half = N_BITS // 2
        return counts_frame(
            bits[:half] if fmt.word is fmt.first_word else bits[half:],
            complement=fmt.complement,
            per_inch=COUNTS_PER_INCH,
            unit=fmt.unit_default,
            raw=frame.raw,
        )
