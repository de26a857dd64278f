"""The kinds of decoder that a profile file may name, and the tables that describe each.

``decoder = "bcd52"`` at the top of a file picks a row of ``WIRE_KINDS``; without that
key it is ``"line"``. A new kind needs a frozen format in ``devices.decoders``, a name
in ``decoders.wire_format.WireFormat``, a reader of its table and one row here, and a
field in ``Profile`` if no field there takes it. ``decoders.make_decoder`` makes the
decoder for it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from gaugelink.devices.decoders.abs_rel_48 import AbsRel48Format
from gaugelink.devices.decoders.bcd7 import Bcd7Format
from gaugelink.devices.decoders.bcd52 import Bcd52Format
from gaugelink.devices.decoders.bit_formats import BitFormat
from gaugelink.devices.decoders.hid_format import HidFieldFormat
from gaugelink.devices.decoders.host_clocked21 import HostClocked21Format
from gaugelink.devices.decoders.signmag24 import SignMag24Format
from gaugelink.devices.decoders.wire_format import WireFormat
from gaugelink.devices.profiles.bits_tables import reader_of
from gaugelink.devices.profiles.hid_tables import (
    hid_field_format,
    hid_keys_format,
    hid_keys_options,
)
from gaugelink.devices.profiles.line_table import line_format
from gaugelink.devices.profiles.toml_fields import Reader, Spot, text

DEFAULT = "line"


@dataclass(frozen=True, slots=True, kw_only=True)
class WireKind:
    """How a profile file describes what one kind of decoder works from.

    Args:
        field: the field of ``Profile`` that takes the format.
        tables: a reader for each table that the file may have.
        required: those that it must have.
        assemble: makes the format of the tables that were there.
    """

    field: str
    tables: Mapping[str, Reader]
    assemble: Callable[[Mapping[str, Any]], WireFormat]
    required: tuple[str, ...] = ()


def wire_kind(spot: Spot) -> WireKind:
    """Return the row that the ``decoder`` key names.

    Args:
        spot: the value of the key.

    Raises:
        ProfileError: not a name that this version knows.
    """
    kind = WIRE_KINDS.get(text(spot))
    if kind is None:
        known = ", ".join(WIRE_KINDS)
        raise spot.fault(f"this gaugelink has no decoder {spot.value!r}; it has: {known}.")
    return kind


def _bits(kind: type[BitFormat]) -> WireKind:
    return WireKind(
        field="bits",
        tables={"bits": reader_of(kind)},
        assemble=lambda tables: tables.get("bits", kind()),
    )


WIRE_KINDS: Mapping[str, WireKind] = {
    "line": WireKind(
        field="line",
        tables={"line": line_format},
        required=("line",),
        assemble=lambda tables: tables["line"],
    ),
    "bcd52": _bits(Bcd52Format),
    "signmag24": _bits(SignMag24Format),
    "abs-rel-2x24": _bits(AbsRel48Format),
    "bcd7": _bits(Bcd7Format),
    "host-clocked-21": _bits(HostClocked21Format),
    "hid-keys": WireKind(
        field="hid",
        tables={"line": line_format, "hid_keys": hid_keys_options},
        required=("line",),
        assemble=hid_keys_format,
    ),
    "hid-field": WireKind(
        field="hid",
        tables={"hid_field": hid_field_format},
        assemble=lambda tables: tables.get("hid_field", HidFieldFormat()),
    ),
}
