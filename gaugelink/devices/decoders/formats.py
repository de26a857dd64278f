"""All that a gauge may send: lines of text, bursts of bits, HID reports.

A new format of bits is a file with its frozen settings and its reader of one burst, and
one row of ``BIT_KINDS``. What a profile may say of it, what an address may set, what a
bridge calls it and what ``identify`` tries all follow from that row.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, TypeAlias

from gaugelink.devices.decoders import bcd, counted
from gaugelink.devices.decoders.bits import BitDecoder, BitFormat, BitFrame
from gaugelink.devices.decoders.hid_field import HidFieldFormat
from gaugelink.devices.decoders.hid_keys import HidKeysFormat
from gaugelink.devices.decoders.line import LineFormat
from gaugelink.model import Frame
from gaugelink.units import LengthUnit

HidFormat: TypeAlias = HidKeysFormat | HidFieldFormat
WireFormat: TypeAlias = LineFormat | BitFormat | HidFormat


@dataclass(frozen=True, slots=True, kw_only=True)
class BitKind:
    """One format of bits.

    Args:
        settings: its frozen format; each field is a key of the ``[bits]`` table.
        read: what one burst means under such settings; raises ``bits.RefusedError``.
        bridge: the name that a bridge gives its bursts in a line.
        in_pairs: a burst counts only when the one before had the same bits.
        is_asked: the gauge sends only when it is asked, so that its silence is not a fault.
        variants: settings, each with another value that ``identify`` tries, because
            published descriptions disagree or bits of any sort are accepted.
    """

    settings: type[BitFormat]
    read: Callable[[BitFrame, Any], Frame]
    bridge: str
    in_pairs: bool = False
    is_asked: bool = False
    variants: tuple[tuple[str, object], ...] = ()


# By the name after ``decoder =`` in a profile. The complement of counts is
# no variant: it is off by one count, below any display.
BIT_KINDS: Mapping[str, BitKind] = {
    "bcd52": BitKind(
        settings=bcd.Bcd52Format,
        read=bcd.read_bcd52,
        bridge="N52",
        is_asked=True,
        variants=(("unit_digit", bcd.UnitDigit.INCH_8),),
    ),
    "signmag24": BitKind(
        settings=counted.SignMag24Format,
        read=counted.read_signmag24,
        bridge="B24",
        in_pairs=True,
        variants=(
            ("invert", True),
            ("start_bit", True),
            ("unit_bit", False),
            ("step_mm", Decimal("0.1")),
        ),
    ),
    "abs-rel-2x24": BitKind(
        settings=counted.AbsRel48Format,
        read=counted.read_abs_rel_48,
        bridge="B48",
        variants=(("first_word", counted.Word.RELATIVE), ("invert", True)),
    ),
    "bcd7": BitKind(
        settings=bcd.Bcd7Format, read=bcd.read_bcd7, bridge="B7N", variants=(("invert", True),)
    ),
    "host-clocked-21": BitKind(
        settings=counted.HostClocked21Format,
        read=counted.read_host_clocked21,
        bridge="B21",
        variants=(("invert", True),),
    ),
}
_BY_SETTINGS = {kind.settings: kind for kind in BIT_KINDS.values()}


def bit_kind(fmt: BitFormat) -> BitKind:
    """Return the row of a format of bits."""
    return _BY_SETTINGS[type(fmt)]


def make_bit_decoder(fmt: BitFormat) -> BitDecoder:
    """Make a fresh decoder of whole bursts for one gauge."""
    kind = bit_kind(fmt)
    return BitDecoder(lambda frame: kind.read(frame, fmt), in_pairs=kind.in_pairs)


def default_unit(fmt: WireFormat) -> LengthUnit | None:
    """Return the unit of what carries none; None when the gauge must say it, or the user."""
    open_format = fmt.line if isinstance(fmt, HidKeysFormat) else fmt
    unit: LengthUnit | None = getattr(open_format, "unit_default", None)
    return unit


def with_default_unit(fmt: WireFormat, unit: LengthUnit) -> WireFormat:
    """Return the format with the unit of what carries none; what a frame says itself holds.

    A format without ``unit_default`` says its unit in every frame, and stays as it is.
    """
    if isinstance(fmt, HidKeysFormat):
        return replace(fmt, line=replace(fmt.line, unit_default=unit))
    changes: dict[str, Any] = {"unit_default": unit} if hasattr(fmt, "unit_default") else {}
    return replace(fmt, **changes)
