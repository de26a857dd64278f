"""The kinds of decoder that a profile file may name, and the tables that describe each.

``decoder = "bcd52"`` at the top of a file picks a row of ``WIRE_KINDS``; without that key
it is ``"line"``. The formats of bits come from ``decoders.formats``: a row there is all
that a new one needs.
"""

from __future__ import annotations

import importlib
import math
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
# Ways to lay a pattern over a line, the most that a bad line may make it try: some 0.1 s.
_MOST_WAYS = 1_000_000


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
    patterns: dict[str, list[re.Pattern[str] | None]] = {
        "pattern": [fmt.pattern],
        "ident_pattern": [fmt.ident_pattern],
    }
    patterns["error_patterns"] = [error.pattern for error in fmt.error_patterns]
    for key, pattern in ((key, each) for key, some in patterns.items() for each in some):
        if pattern is not None and ways_of(pattern, fmt.max_line_bytes) > _MOST_WAYS:
            hint = "Let no two repeats that stand near each other match the same characters."
            return spot.child(key).fault("can match a bad line in too many ways.", hint)
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
    try:
        ways_of(compiled, 1)
    except _NotPlainError as why:
        hint = "Use characters, classes, groups, |, ?, * + and {} after one character, and (?=."
        raise spot.fault(f"{why}, which may take for ever on a bad line.", hint) from why
    unknown = set(compiled.groupindex) - line.GROUPS
    if unknown:
        hint = f"Groups: {', '.join(sorted(line.GROUPS))}."
        raise spot.fault(f"has an unknown group {min(unknown)!r}.", hint)
    return compiled


class _NotPlainError(ValueError):
    """A pattern has a part whose time is not bounded here; the message says which."""


def ways_of(pattern: re.Pattern[str], line_bytes: int) -> int:
    """Return a bound of the ways in which a pattern can be laid over one line.

    Python's expressions go back and try again; what multiplies the tries is what can match one
    character in several places: repeats of a varying length, and alternatives. k repeats share a
    line of n bytes in binomial(n + k, k) ways at most, each other choice multiplies them. That is
    counted for each character by itself, with what only looks ahead, and the most is returned.

    Raises:
        ValueError: a group is repeated, refers back, looks behind or sets a flag.
    """
    if pattern.flags != re.ASCII:
        raise _NotPlainError("sets a flag")
    ways = _Ways(line_bytes)
    ways.count(importlib.import_module("re._parser").parse(pattern.pattern, re.ASCII))
    return max(
        math.comb(line_bytes + ways.repeats[each], ways.repeats[each]) * ways.choices[each]
        for each in ways.repeats
    )


class _Ways:
    """For each character, the repeats that it can be in, and the product of other choices."""

    def __init__(self, line_bytes: int) -> None:
        self._line_bytes = line_bytes
        self.repeats = dict.fromkeys(map(chr, range(256)), 0)
        self.choices = dict.fromkeys(map(chr, range(256)), 1)

    def count(self, parts: Any) -> None:
        for name, given in ((str(name), given) for name, given in parts):
            if name in ("MAX_REPEAT", "MIN_REPEAT", "POSSESSIVE_REPEAT"):
                self._count_repeat(*given)
            elif name == "SUBPATTERN":
                if given[1] or given[2]:
                    raise _NotPlainError("sets a flag")
                self.count(given[3])
            elif name == "BRANCH":
                self._count_branch(given[1])
            elif name in ("ASSERT", "ASSERT_NOT") and given[0] > 0:
                self.count(given[1])
            elif name not in (*_SINGLE, "AT"):
                raise _NotPlainError("refers back or looks behind")

    def _count_branch(self, alternatives: Any) -> None:
        """Count as many as there are of the one that has the most: a try takes one of them."""
        each = [_Ways(self._line_bytes) for _ in alternatives]
        for ways, parts in zip(each, alternatives, strict=True):
            ways.count(parts)
        self._choose(_characters([part for parts in alternatives for part in parts]), len(each))
        for character in self.repeats:
            self.repeats[character] += max(ways.repeats[character] for ways in each)
            self.choices[character] *= max(ways.choices[character] for ways in each)

    def _count_repeat(self, least: int, most: int, body: Any) -> None:
        if most > 1 and (len(body) != 1 or str(body[0][0]) not in _SINGLE):
            raise _NotPlainError("repeats a group")
        if most < self._line_bytes:
            self._choose(_characters(body), most - least + 1)
        else:
            for character in _characters(body):
                self.repeats[character] += 1
        self.count(body)

    def _choose(self, characters: set[str], n: int) -> None:
        for character in characters:
            self.choices[character] *= n


_SINGLE = ("LITERAL", "NOT_LITERAL", "ANY", "IN")


def _characters(parts: Any) -> set[str]:
    """Return the characters that a part of a pattern can match, of all that a line may hold."""
    found: set[str] = set()
    for name, given in ((str(name), given) for name, given in parts):
        if name in _SINGLE:
            found |= _class_of(name, given)
        elif name.endswith("REPEAT"):
            found |= _characters(given[2])
        elif name == "SUBPATTERN":
            found |= _characters(given[3])
        elif name == "BRANCH":
            found |= _characters([part for each in given[1] for part in each])
    return found


def _class_of(name: str, given: Any) -> set[str]:
    every = set(map(chr, range(256)))
    if name == "ANY":
        return every
    if name in ("LITERAL", "NOT_LITERAL"):
        return {chr(given)} if name == "LITERAL" else every - {chr(given)}
    found: set[str] = set()
    for kind, value in ((str(kind), value) for kind, value in given):
        if kind == "LITERAL":
            found.add(chr(value))
        elif kind == "RANGE":
            found |= set(map(chr, range(value[0], min(value[1], 255) + 1)))
        elif kind == "CATEGORY":
            found |= _CATEGORIES.get(str(value), every)
    return every - found if given and str(given[0][0]) == "NEGATE" else found


_CATEGORIES = {
    "CATEGORY_DIGIT": set("0123456789"),
    "CATEGORY_SPACE": set(" \t\n\r\f\v"),
}


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
