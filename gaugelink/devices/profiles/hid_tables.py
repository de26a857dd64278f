"""From the ``[hid_keys]`` and ``[hid_field]`` tables of a profile file to the HID formats."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from gaugelink.devices.decoders.hid_format import (
    HidFieldFormat,
    HidKeysFormat,
    KeyboardLayout,
    KeyLineEnd,
)
from gaugelink.devices.profiles.toml_fields import (
    Schema,
    Spot,
    choice,
    decimal,
    flag,
    read_table,
    set_of,
    whole,
)
from gaugelink.units import LengthUnit

_LAST_BIT = 8 * 255 - 1  # of the longest report that travels


def hid_keys_options(spot: Spot) -> dict[str, Any]:
    """Read the ``[hid_keys]`` table: all of a ``HidKeysFormat`` but its ``line``."""
    return read_table(spot, KEYS_SCHEMA)


def hid_keys_format(tables: Mapping[str, Any]) -> HidKeysFormat:
    """Join what the keys do with what they spell."""
    return HidKeysFormat(line=tables["line"], **tables.get("hid_keys", {}))


def hid_field_format(spot: Spot) -> HidFieldFormat:
    """Read the ``[hid_field]`` table.

    Raises:
        ProfileError: a key is unknown or wrong, or would mean nothing.
    """
    fields = read_table(spot, FIELD_SCHEMA)
    for key, needs in (("bit_size", "bit_offset"), ("signed", "step")):
        if key in fields and needs not in fields:
            raise spot.child(key).fault(f"means nothing without {needs}.")
    return HidFieldFormat(**fields)


KEYS_SCHEMA: Schema = {
    "layout": choice(KeyboardLayout),
    "line_ends": set_of(choice(KeyLineEnd)),
    "ends_on_silence": flag,
    "in_array_order": flag,
}

FIELD_SCHEMA: Schema = {
    "report_id": whole(0, 255),
    "usage": whole(1, 0xFFFF_FFFF),
    "bit_offset": whole(0, _LAST_BIT),
    "bit_size": whole(1, 32),
    "signed": flag,
    "step": decimal,
    "unit_default": choice(LengthUnit),
}
