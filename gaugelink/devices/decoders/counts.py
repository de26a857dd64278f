"""Counts of a scale: signed words that stand for fractions of an inch in either unit mode."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from enum import StrEnum

from gaugelink.devices.decoders.burst import signed_frame
from gaugelink.devices.decoders.nibbles import number
from gaugelink.model import Frame
from gaugelink.units import MM_PER_INCH, LengthUnit


class Complement(StrEnum):
    """How a negative number is written; with one's complement there is a minus zero."""

    TWO = "two"
    ONE = "one"


def counts_frame(
    word: Sequence[int],
    *,
    complement: Complement,
    per_inch: int,
    unit: LengthUnit,
    raw: bytes,
) -> Frame:
    """Return the length of a word of counts, exactly, with one count as its step.

    Args:
        word: bits, the least significant first; the last one is 1 when negative.
        complement: how a negative number is written.
        per_inch: counts per inch.
        unit: what to give the length in; the counts do not depend on it.
        raw: the bytes of the burst.
    """
    negative = bool(word[-1])
    magnitude = number([bit ^ negative for bit in word])
    if negative and complement is Complement.TWO:
        magnitude += 1
    step = (MM_PER_INCH if unit is LengthUnit.MM else Decimal(1)) / per_inch
    return signed_frame(magnitude * step, negative=negative, unit=unit, raw=raw, step=step)
