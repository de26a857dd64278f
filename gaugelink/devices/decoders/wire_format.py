"""What a gauge may send: the union of all formats, and the unit that each leaves open."""

from __future__ import annotations

from dataclasses import replace
from typing import TypeAlias

from gaugelink.devices.decoders.abs_rel_48 import AbsRel48Format
from gaugelink.devices.decoders.bit_formats import BitFormat
from gaugelink.devices.decoders.hid_format import HidFieldFormat, HidKeysFormat
from gaugelink.devices.decoders.host_clocked21 import HostClocked21Format
from gaugelink.devices.decoders.line_format import LineFormat
from gaugelink.devices.decoders.signmag24 import SignMag24Format
from gaugelink.units import LengthUnit

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
