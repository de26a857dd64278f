"""Keys of a profile that an address may set, so that a variant needs no file of its own.

``serial:PORT?format=line-two-channel&baud=4800`` has the port set to another speed, and
``bridge:PORT?format=signmag24&invert=true`` reads a gauge behind one transistor a line.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from gaugelink.devices.address import Address
from gaugelink.devices.decoders.hid_format import HidKeysFormat, KeyboardLayout
from gaugelink.devices.decoders.line_format import LineFormat
from gaugelink.devices.decoders.parity import Parity
from gaugelink.devices.profiles.bits_tables import BITS_SCHEMAS
from gaugelink.devices.profiles.profile import Profile
from gaugelink.devices.profiles.toml_fields import Schema, Spot, choice, flag, whole
from gaugelink.errors import InputError, ProfileError

_PORT: Schema = {
    "baud": whole(50, 4_000_000),
    "data_bits": whole(7, 8),
    "parity": choice(Parity),
    "stop_bits": whole(1, 2),
}
_WIRE: Mapping[Any, Schema] = {
    **{
        kind: {key: reader for key, reader in schema.items() if key != "unit_default"}
        for kind, schema in BITS_SCHEMAS.items()
    },
    LineFormat: {"check_parity": choice(Parity), "strip_high_bit": flag},
    HidKeysFormat: {"layout": choice(KeyboardLayout)},
}

PORT_OPTIONS = frozenset(_PORT)
WIRE_OPTIONS = frozenset(key for schema in _WIRE.values() for key in schema)


def varied(profile: Profile, address: Address) -> Profile:
    """Return the profile with the keys that the address sets.

    Raises:
        InputError: a value that cannot be, or a key that the format does not have.
    """
    field = next(name for name in ("line", "bits", "hid") if getattr(profile, name) is not None)
    wire = _WIRE.get(type(profile.wire), {})
    for key in sorted(address.options.keys() & WIRE_OPTIONS - wire.keys()):
        raise InputError(
            f"The format {profile.name} has no {key!r} that {address.text!r} could set.",
            hint=f"It has: {', '.join(wire) or 'none'}.",
        )
    port_changes = _changes(address, _PORT)
    wire_changes = _changes(address, wire)
    if not (port_changes or wire_changes):
        return profile
    changed: dict[str, Any] = {field: replace(profile.wire, **wire_changes)}
    return replace(profile, port=replace(profile.port, **port_changes), **changed)


def _changes(address: Address, schema: Schema) -> dict[str, Any]:
    return {key: _read(address, key, schema) for key in schema if key in address.options}


def _read(address: Address, key: str, schema: Schema) -> object:
    text = address.options[key]
    try:
        return schema[key](Spot(value=_typed(text), path=address.text, key=key))
    except ProfileError as error:
        raise InputError(f"{error}", hint="Type it as in a format profile.") from error


def _typed(text: str) -> object:
    """Return what TOML would make of a bare word or number; other words are strings."""
    if text in ("true", "false"):
        return text == "true"
    if re.fullmatch(r"\d+", text, re.ASCII):
        return int(text)
    return Decimal(text) if re.fullmatch(r"\d+\.\d+", text, re.ASCII) else text
