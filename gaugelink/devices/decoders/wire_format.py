"""What a gauge may send: the union of all formats, and the unit that each leaves open.

The bit formats: which decoder reads each, and under which name a bridge sends it.

A new bit format is a module with a frozen format and a ``BitDecoder``, one name in
``BitFormat``, one row here, and one row in ``profiles.wire_kinds``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

from gaugelink.devices.decoders.bcd52 import Bcd7Decoder, Bcd7Format, Bcd52Decoder, Bcd52Format
from gaugelink.devices.decoders.bits import BitDecoder
from gaugelink.devices.decoders.hid_format import HidFieldFormat, HidKeysFormat
from gaugelink.devices.decoders.line import LineFormat
from gaugelink.devices.decoders.signmag24 import (
    AbsRel48Decoder,
    AbsRel48Format,
    HostClocked21Decoder,
    HostClocked21Format,
    SignMag24Decoder,
    SignMag24Format,
)
from gaugelink.units import LengthUnit

BitFormat: TypeAlias = (
    Bcd52Format | SignMag24Format | AbsRel48Format | Bcd7Format | HostClocked21Format
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    kind: str
    decoder: Callable[[Any], BitDecoder]


_ROWS: Mapping[type[BitFormat], _Row] = {
    Bcd52Format: _Row(kind="N52", decoder=Bcd52Decoder),
    SignMag24Format: _Row(kind="B24", decoder=SignMag24Decoder),
    AbsRel48Format: _Row(kind="B48", decoder=AbsRel48Decoder),
    Bcd7Format: _Row(kind="B7N", decoder=Bcd7Decoder),
    HostClocked21Format: _Row(kind="B21", decoder=HostClocked21Decoder),
}


def make_bit_decoder(fmt: BitFormat) -> BitDecoder:
    """Make a fresh decoder of whole bursts for one gauge."""
    return _ROWS[type(fmt)].decoder(fmt)


def bridge_kind(fmt: BitFormat) -> str:
    """Return the name that a bridge gives this format in its lines."""
    return _ROWS[type(fmt)].kind


HidFormat: TypeAlias = HidKeysFormat | HidFieldFormat
WireFormat: TypeAlias = LineFormat | BitFormat | HidFormat
# Those whose frames may leave the unit open; the frames of the others always tell it.
_OPEN = (LineFormat, SignMag24Format, AbsRel48Format, HostClocked21Format, HidFieldFormat)


def default_unit(fmt: WireFormat) -> LengthUnit | None:
    """Return the unit of what carries none; None when the gauge must say it, or the user."""
    if isinstance(fmt, HidKeysFormat):
        return fmt.line.unit_default
    return fmt.unit_default if isinstance(fmt, _OPEN) else None


def with_default_unit(fmt: WireFormat, unit: LengthUnit) -> WireFormat:
    """Return the format with the unit of what carries none; what a frame says itself holds."""
    if isinstance(fmt, HidKeysFormat):
        return replace(fmt, line=replace(fmt.line, unit_default=unit))
    return replace(fmt, unit_default=unit) if isinstance(fmt, _OPEN) else fmt
