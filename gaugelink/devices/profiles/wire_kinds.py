"""The kinds of decoder that a profile file may name, and the tables that describe each.

``decoder = "bcd52"`` at the top of a file picks a row of ``WIRE_KINDS``; without that key
it is ``"line"``. The formats of bits come from ``decoders.formats``: a row there is all
that a new one needs.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from gaugelink.devices.decoders import line
from gaugelink.devices.decoders.bits import BitFormat
from gaugelink.devices.decoders.formats import BIT_KINDS, WireFormat
from gaugelink.devices.decoders.hid_field import HidFieldFormat
from gaugelink.devices.decoders.hid_keys import HidKeysFormat, KeyboardLayout, KeyLineEnd
from gaugelink.devices.profiles import toml_fields
from gaugelink.errors import ProfileError
from gaugelink.model import Flag
from gaugelink.units import LengthUnit

DEFAULT = "line"
_LAST_BIT = 8 * 255 - 1  # of the longest report that travels
# An escape, a character class, or what is looked for: a group with a repeat behind it.
_REPEATED_GROUP = re.compile(r"\\.|\[\^?\]?(?:\\.|[^\]\\])*\]|(?P<found>\)[*+{])", re.DOTALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class WireKind:
    """How a profile file describes what one kind of decoder works from.

    Args:
        tables: a reader for each table that the file may have.
        required: those that it must have.
        assemble: makes the format of the tables that were there.
    """

    tables: Mapping[str, toml_fields.Reader]
    assemble: Callable[[Mapping[str, Any]], WireFormat]
    required: tuple[str, ...] = ()


def wire_kind(spot: toml_fields.Spot) -> WireKind:
    """Return the row that the ``decoder`` key names.

    Raises:
        ProfileError: not a name that this version knows.
    """
    kind = WIRE_KINDS.get(toml_fields.text(spot))
    if kind is None:
        known = ", ".join(WIRE_KINDS)
        raise spot.fault(f"this gaugelink has no decoder {spot.value!r}; it has: {known}.")
    return kind


def line_format(spot: toml_fields.Spot) -> line.LineFormat:
    """Read the ``[line]`` table.

    Raises:
        ProfileError: a key is missing, unknown or wrong, or two keys contradict each other.
    """
    fmt = line.LineFormat(
        **toml_fields.read_table(spot, LINE_SCHEMA, required=("pattern", "line_end"))
    )
    if error := _contradiction(spot, fmt):
        raise error
    return fmt


def _contradiction(spot: toml_fields.Spot, fmt: line.LineFormat) -> ProfileError | None:
    groups = fmt.pattern.groupindex
    many = fmt.readings_per_line is line.ReadingsPerLine.MANY
    if "judge" in groups and not fmt.judge:
        return spot.child("judge").fault("missing, though the pattern has a group 'judge'.")
    if fmt.channel is not None and "channel" not in groups:
        return spot.child("channel").fault("the pattern has no group 'channel'.")
    if many and "channel" not in groups:
        message = "'many' needs a group 'channel' in the pattern, to tell the readings apart."
        return spot.child("readings_per_line").fault(message)
    if fmt.strip_high_bit and fmt.check_parity is not line.Parity.NONE:
        message = "bit 7 cannot be undefined and the parity bit at once."
        return spot.child("strip_high_bit").fault(message)
    return None


def _pattern(spot: toml_fields.Spot) -> re.Pattern[str]:
    try:
        compiled = re.compile(toml_fields.text(spot), re.ASCII)
    except re.error as error:
        raise spot.fault(f"not a regular expression: {error}.") from error
    if any(token["found"] for token in _REPEATED_GROUP.finditer(compiled.pattern)):
        hint = "Repeat single characters or classes only, or write the group out."
        raise spot.fault("repeats a group, which may never end on a bad line.", hint)
    unknown = set(compiled.groupindex) - line.GROUPS
    if unknown:
        hint = f"Groups: {', '.join(sorted(line.GROUPS))}."
        raise spot.fault(f"has an unknown group {min(unknown)!r}.", hint)
    return compiled


def _reading_pattern(spot: toml_fields.Spot) -> re.Pattern[str]:
    compiled = _pattern(spot)
    if "value" not in compiled.groupindex:
        raise spot.fault("has no group named 'value': (?P<value>...).")
    return compiled


def _error_patterns(spot: toml_fields.Spot) -> tuple[line.ErrorPattern, ...]:
    meanings = toml_fields.table_of(toml_fields.text)(spot)
    return tuple(
        line.ErrorPattern(pattern=_pattern(spot.child(pattern, pattern)), text=meaning)
        for pattern, meaning in meanings.items()
    )


def _line_end(spot: toml_fields.Spot) -> tuple[bytes, ...]:
    given = spot.value if isinstance(spot.value, list) else [spot.value]
    ends = tuple(
        toml_fields.data(toml_fields.Spot(value=end, path=spot.path, key=spot.key)) for end in given
    )
    if not ends:
        raise spot.fault("may not be empty.")
    if not all(end.isascii() for end in ends):
        raise spot.fault("a line end must be ASCII.")
    if any(a != b and a in b for a in ends for b in ends):
        hint = 'For gauges that send CR, LF or both, write ["\\r", "\\n"].'
        raise spot.fault("one line end is part of another.", hint)
    return ends


def _step(spot: toml_fields.Spot) -> dict[LengthUnit, Decimal]:
    steps = toml_fields.read_table(spot, {unit.value: toml_fields.decimal for unit in LengthUnit})
    return {LengthUnit(unit): step for unit, step in steps.items()}


LINE_SCHEMA: toml_fields.Schema = {
    "pattern": _reading_pattern,
    "line_end": _line_end,
    "readings_per_line": toml_fields.choice(line.ReadingsPerLine),
    "unit_default": toml_fields.choice(LengthUnit),
    "units": toml_fields.table_of(toml_fields.choice(LengthUnit)),
    "decimal": toml_fields.choice(line.DecimalMark),
    "judge": toml_fields.table_of(toml_fields.choice(Flag)),
    "step": _step,
    "channel": toml_fields.text,
    "error_patterns": _error_patterns,
    "ident_pattern": _pattern,
    "echo": toml_fields.data,
    "strip_high_bit": toml_fields.flag,
    "check_parity": toml_fields.choice(line.Parity),
    "max_line_bytes": toml_fields.whole(1, 256),
    "steady_length": toml_fields.flag,
}


def _bits(kind: type[BitFormat]) -> WireKind:
    def read(spot: toml_fields.Spot) -> BitFormat:
        fmt = kind(**toml_fields.read_table(spot, toml_fields.schema_of(kind)))
        if wrong := fmt.contradiction():
            key, why = wrong
            raise spot.child(key).fault(why)
        return fmt

    return WireKind(
        tables={"bits": read},
        assemble=lambda tables: tables.get("bits", kind()),
    )


def _hid_keys(tables: Mapping[str, Any]) -> HidKeysFormat:
    """Join what the keys do with what they spell."""
    return HidKeysFormat(line=tables["line"], **tables.get("hid_keys", {}))


def _hid_field(spot: toml_fields.Spot) -> HidFieldFormat:
    """Read the ``[hid_field]`` table."""
    fields = toml_fields.read_table(spot, FIELD_SCHEMA)
    for key, needs in (("bit_size", "bit_offset"), ("signed", "step")):
        if key in fields and needs not in fields:
            raise spot.child(key).fault(f"needs {needs} as well.")
    return HidFieldFormat(**fields)


KEYS_SCHEMA: toml_fields.Schema = {
    "layout": toml_fields.choice(KeyboardLayout),
    "line_ends": toml_fields.set_of(toml_fields.choice(KeyLineEnd)),
    "ends_on_silence": toml_fields.flag,
    "in_array_order": toml_fields.flag,
}
FIELD_SCHEMA: toml_fields.Schema = {
    "report_id": toml_fields.whole(0, 255),
    "usage": toml_fields.whole(1, 0xFFFF_FFFF),
    "bit_offset": toml_fields.whole(0, _LAST_BIT),
    "bit_size": toml_fields.whole(1, 32),
    "signed": toml_fields.flag,
    "step": toml_fields.decimal,
    "unit_default": toml_fields.choice(LengthUnit),
}


WIRE_KINDS: Mapping[str, WireKind] = {
    "line": WireKind(
        tables={"line": line_format},
        required=("line",),
        assemble=lambda tables: tables["line"],
    ),
    **{name: _bits(kind.settings) for name, kind in BIT_KINDS.items()},
    "hid-keys": WireKind(
        tables={
            "line": line_format,
            "hid_keys": lambda spot: toml_fields.read_table(spot, KEYS_SCHEMA),
        },
        required=("line",),
        assemble=_hid_keys,
    ),
    "hid-field": WireKind(
        tables={"hid_field": _hid_field},
        assemble=lambda tables: tables.get("hid_field", HidFieldFormat()),
    ),
}
