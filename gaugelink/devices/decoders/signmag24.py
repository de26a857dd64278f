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
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from gaugelink.devices.decoders.bits import BitFrame
from gaugelink.devices.decoders.burst import (
    RefusedError,
    event_of,
    refuse_all_ones,
    signed_frame,
    whole_bits,
)
from gaugelink.devices.decoders.equal_pair import EqualPair
from gaugelink.devices.decoders.nibbles import number
from gaugelink.model import FaultKind, Frame, WireEvent
from gaugelink.units import LengthUnit

N_BITS = 24
_MAGNITUDE, _SIGN, _RESERVED, _UNIT = slice(0, 20), 20, slice(21, 23), 23


@dataclass(frozen=True, slots=True, kw_only=True)
class SignMag24Format:
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
        bits = whole_bits(frame, N_BITS + n_start, invert=self._format.invert)
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
