"""From the ``[line]`` table of a profile file to a ``LineFormat``."""

from __future__ import annotations

import re
from decimal import Decimal

from gaugelink.devices.decoders.line_format import (
    GROUPS,
    DecimalMark,
    ErrorPattern,
    LineFormat,
    ReadingsPerLine,
)
from gaugelink.devices.decoders.parity import Parity
from gaugelink.devices.profiles.toml_fields import (
    Schema,
    Spot,
    choice,
    data,
    decimal,
    flag,
    read_table,
    table_of,
    text,
    whole,
)
from gaugelink.errors import ProfileError
from gaugelink.model import Flag
from gaugelink.units import LengthUnit

# An escape, a character class, or what is looked for: a group with a repeat behind it.
_REPEATED_GROUP = re.compile(r"\\.|\[\^?\]?(?:\\.|[^\]\\])*\]|(?P<found>\)[*+{])", re.DOTALL)


def line_format(spot: Spot) -> LineFormat:
    """Read the ``[line]`` table.

    Raises:
        ProfileError: a key is missing, unknown or wrong, or two keys contradict each other.
    """
    fmt = LineFormat(**read_table(spot, _SCHEMA, required=("pattern", "line_end")))
    if error := _contradiction(spot, fmt):
        raise error
    return fmt


def _contradiction(spot: Spot, fmt: LineFormat) -> ProfileError | None:
    groups = fmt.pattern.groupindex
    many = fmt.readings_per_line is ReadingsPerLine.MANY
    if "judge" in groups and not fmt.judge:
        return spot.child("judge").fault("missing, though the pattern has a group 'judge'.")
    if fmt.channel is not None and "channel" not in groups:
        return spot.child("channel").fault("the pattern has no group 'channel'.")
    if many and "channel" not in groups:
        message = "'many' needs a group 'channel' in the pattern, to tell the readings apart."
        return spot.child("readings_per_line").fault(message)
    if fmt.strip_high_bit and fmt.check_parity is not Parity.NONE:
        message = "bit 7 cannot be undefined and the parity bit at once."
        return spot.child("strip_high_bit").fault(message)
    return None


def _pattern(spot: Spot) -> re.Pattern[str]:
    try:
        compiled = re.compile(text(spot), re.ASCII)
    except re.error as error:
        raise spot.fault(f"not a regular expression: {error}.") from error
    if any(token["found"] for token in _REPEATED_GROUP.finditer(compiled.pattern)):
        hint = "Repeat single characters or classes only, or write the group out."
        raise spot.fault("repeats a group, which may take for ever on a bad line.", hint)
    unknown = set(compiled.groupindex) - GROUPS
    if unknown:
        hint = f"Groups: {', '.join(sorted(GROUPS))}."
        raise spot.fault(f"has an unknown group {min(unknown)!r}.", hint)
    return compiled


def _reading_pattern(spot: Spot) -> re.Pattern[str]:
    compiled = _pattern(spot)
    if "value" not in compiled.groupindex:
        raise spot.fault("has no group named 'value': (?P<value>...).")
    return compiled


def _error_patterns(spot: Spot) -> tuple[ErrorPattern, ...]:
    meanings = table_of(text)(spot)
    return tuple(
        ErrorPattern(pattern=_pattern(spot.child(pattern, pattern)), text=meaning)
        for pattern, meaning in meanings.items()
    )


def _line_end(spot: Spot) -> tuple[bytes, ...]:
    given = spot.value if isinstance(spot.value, list) else [spot.value]
    ends = tuple(data(Spot(value=end, path=spot.path, key=spot.key)) for end in given)
    if not ends:
        raise spot.fault("may not be empty.")
    if not all(end.isascii() for end in ends):
        raise spot.fault("a line end must be ASCII.")
    if any(a != b and a in b for a in ends for b in ends):
        hint = 'For gauges that send CR, LF or both, write ["\\r", "\\n"].'
        raise spot.fault("one line end stands inside another.", hint)
    return ends


def _step(spot: Spot) -> dict[LengthUnit, Decimal]:
    steps = read_table(spot, {unit.value: decimal for unit in LengthUnit})
    return {LengthUnit(unit): step for unit, step in steps.items()}


_SCHEMA: Schema = {
    "pattern": _reading_pattern,
    "line_end": _line_end,
    "readings_per_line": choice(ReadingsPerLine),
    "unit_default": choice(LengthUnit),
    "units": table_of(choice(LengthUnit)),
    "decimal": choice(DecimalMark),
    "judge": table_of(choice(Flag)),
    "step": _step,
    "channel": text,
    "error_patterns": _error_patterns,
    "ident_pattern": _pattern,
    "echo": data,
    "strip_high_bit": flag,
    "check_parity": choice(Parity),
    "max_line_bytes": whole(1, 256),
}
