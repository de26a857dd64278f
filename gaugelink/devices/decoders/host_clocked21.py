"""The 21-bit frame of scales that wait for a clock from the host.

One word of counts, the least significant bit first, 2560 counts per inch. Source:
shumatech.com, "21bit protocol". How a negative number is written was not found; two's
complement is assumed (from memory).

All ones is refused, because a scale that is unplugged gives it for ever; -1 count, about
0.01 mm below zero, is lost with it.
"""

from __future__ import annotations

from dataclasses import dataclass

from gaugelink.devices.decoders.bits import BitFrame
from gaugelink.devices.decoders.burst import event_of, refuse_all_ones, whole_bits
from gaugelink.devices.decoders.counts import Complement, counts_frame
from gaugelink.model import Frame, WireEvent
from gaugelink.units import LengthUnit

N_BITS = 21
COUNTS_PER_INCH = 2560


@dataclass(frozen=True, slots=True, kw_only=True)
class HostClocked21Format:
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
        bits = whole_bits(frame, N_BITS, invert=self._format.invert)
        refuse_all_ones(bits)
        return counts_frame(
            bits,
            complement=Complement.TWO,
            per_inch=COUNTS_PER_INCH,
            unit=self._format.unit_default,
            raw=frame.raw,
        )
