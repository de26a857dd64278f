"""Decoders: bytes in, events out; no port, no clock, no file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gaugelink.devices.decoders.bridge_line import BridgeDecoder
from gaugelink.devices.decoders.formats import bit_kind, make_bit_decoder, with_default_unit
from gaugelink.devices.decoders.hid_field import HidFieldDecoder, HidFieldFormat
from gaugelink.devices.decoders.hid_keys import HidKeysDecoder, HidKeysFormat
from gaugelink.devices.decoders.line import LineDecoder, LineFormat
from gaugelink.units import LengthUnit

if TYPE_CHECKING:
    from gaugelink.devices.contract import Decoder
    from gaugelink.devices.profiles.profile import Profile

__all__ = ["make_decoder"]


def make_decoder(
    profile: Profile, *, unit: LengthUnit | None = None, bridge_port: int | None = None
) -> Decoder:
    """Make a fresh decoder for one gauge.

    Args:
        profile: what the gauge sends.
        unit: the unit the user says the gauge shows, for what carries none.
        bridge_port: 0 to 9, the port of the bridge that the gauge is on; None takes the
            first one heard. Only formats of bits come through a bridge.
    """
    fmt = profile.wire if unit is None else with_default_unit(profile.wire, unit)
    match fmt:
        case LineFormat():
            return LineDecoder(fmt)
        case HidKeysFormat():
            return HidKeysDecoder(fmt)
        case HidFieldFormat():
            return HidFieldDecoder(fmt)
    return BridgeDecoder(make_bit_decoder(fmt), bit_kind(fmt).bridge, port=bridge_port)
