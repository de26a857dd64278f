"""From the ``[bits]`` table of a profile file to one of the bit formats."""

from __future__ import annotations

from collections.abc import Mapping

from gaugelink.devices.decoders.abs_rel_48 import AbsRel48Format, Word
from gaugelink.devices.decoders.bcd7 import Bcd7Format
from gaugelink.devices.decoders.bcd52 import Bcd52Format, UnitDigit
from gaugelink.devices.decoders.bit_formats import BitFormat
from gaugelink.devices.decoders.counts import Complement
from gaugelink.devices.decoders.host_clocked21 import HostClocked21Format
from gaugelink.devices.decoders.signmag24 import SignMag24Format
from gaugelink.devices.profiles.toml_fields import (
    Reader,
    Schema,
    Spot,
    choice,
    decimal,
    flag,
    read_table,
    whole,
)
from gaugelink.units import LengthUnit


def reader_of(kind: type[BitFormat]) -> Reader:
    """Make a reader of the ``[bits]`` table of one bit format; every key has a default."""

    def read(spot: Spot) -> BitFormat:
        fmt = kind(**read_table(spot, BITS_SCHEMAS[kind]))
        if isinstance(fmt, SignMag24Format) and fmt.unit_bit and fmt.unit_default:
            message = "bit 23 tells the unit; write unit_bit = false if it does not."
            raise spot.child("unit_default").fault(message)
        return fmt

    return read


BITS_SCHEMAS: Mapping[type[BitFormat], Schema] = {
    Bcd52Format: {"digits": whole(6, 8), "unit_digit": choice(UnitDigit)},
    SignMag24Format: {
        "invert": flag,
        "start_bit": flag,
        "step_mm": decimal,
        "step_inch": decimal,
        "unit_bit": flag,
        "unit_default": choice(LengthUnit),
    },
    AbsRel48Format: {
        "first_word": choice(Word),
        "word": choice(Word),
        "complement": choice(Complement),
        "invert": flag,
        "unit_default": choice(LengthUnit),
    },
    Bcd7Format: {"invert": flag},
    HostClocked21Format: {"invert": flag, "unit_default": choice(LengthUnit)},
}
