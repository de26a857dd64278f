"""Decoders: bytes in, events out; no port, no clock, no file."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from gaugelink.devices.decoders.line import LineDecoder
from gaugelink.units import LengthUnit

if TYPE_CHECKING:
    from gaugelink.devices.contract import Decoder
    from gaugelink.devices.profiles import Profile

__all__ = ["make_decoder"]


def make_decoder(profile: Profile, *, unit: LengthUnit | None = None) -> Decoder:
    """Make a fresh decoder for one gauge.

    Args:
        profile: what the gauge sends; ``line`` is the only kind of decoder so far.
        unit: the unit the user says the gauge shows, for lines that carry none.
    """
    line = profile.line if unit is None else replace(profile.line, unit_default=unit)
    return LineDecoder(line)
