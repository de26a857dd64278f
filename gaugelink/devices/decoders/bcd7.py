"""The 28-bit frame: six decimal digits and a digit of flags, sent all the time.

Seven digits of four bits, the least significant bit first and the **least significant
digit first**. In mm the number counts 0.01 mm, in inches 0.001 inch.

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
from gaugelink.devices.decoders.nibbles import nibbles
from gaugelink.model import Frame, WireEvent
from gaugelink.units import LengthUnit

N_BITS = 28
STEP_MM = Decimal("0.01")
STEP_INCH = Decimal("0.0005")
_NEGATIVE, _HALF, _METRIC, _UNKNOWN = 1, 2, 4, 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Bcd7Format:
    """One make's 28-bit frame.

    Args:
        invert: the collector sees a 0 for each 1.
    """

    invert: bool = False


class Bcd7Decoder:
    """Decodes one gauge's 28-bit frames; see ``bits.BitDecoder``."""

    def __init__(self, fmt: Bcd7Format) -> None:
        self._format = fmt

    def decode(self, frame: BitFrame) -> list[WireEvent]:
        """Return the value of one burst, or why it is none."""
        return [event_of(frame, self._read)]

    def reset(self) -> None:
        """Do nothing: every burst stands alone."""

    def _read(self, frame: BitFrame) -> Frame:
        bits = whole_bits(frame, N_BITS, invert=self._format.invert)
        refuse_all_ones(bits)
        *digits, flags = nibbles(bits)
        shown = _number(digits)
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


def _number(digits: list[int]) -> int:
    for place, digit in enumerate(digits, start=1):
        if digit > 9:
            raise RefusedError(f"digit {place} of the frame is {digit:X} instead of 0 to 9")
    return sum(digit * 10**power for power, digit in enumerate(digits))


def _refuse_flags(flags: int) -> None:
    if flags & _UNKNOWN:
        raise RefusedError(f"flags {flags:X}: the highest bit has no known meaning")
    if flags & _HALF and flags & _METRIC:
        raise RefusedError(f"flags {flags:X}: half a thousandth of an inch, but in mm")
