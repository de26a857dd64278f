"""Shipped formats, what their gauges send, and identifying it, for the tests of that."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from bridge_lines import line

from gaugelink.devices.decoders.bits import BitFlag, BitFrame
from gaugelink.devices.decoders.formats import BIT_KINDS
from gaugelink.devices.identify.judge import identify
from gaugelink.devices.identify.verdict import (
    NOTHING,
    Ask,
    FormatFinding,
    Identification,
    Said,
    parse_shown,
)
from gaugelink.devices.identify.weighed import Heard
from gaugelink.devices.profiles.profile import Profile, load_profiles

WIRE = Path(__file__).parents[2] / "fixtures" / "wire"
_SHIPPED = load_profiles()
PROFILES: dict[str, Profile] = {name: _SHIPPED.find(name) for name in _SHIPPED.names}
LINES = [p for p in PROFILES.values() if p.line is not None]
BITS = [p for p in PROFILES.values() if p.bits is not None]
HID = [p for p in PROFILES.values() if p.hid is not None]
ON_SERIAL = [*LINES, *BITS]


def vectors(file: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads((WIRE / file).read_text(encoding="utf-8"))["vectors"]
    return [vector for vector in found if vector.get("profile") in PROFILES]


def is_read(vector: dict[str, Any]) -> bool:
    """Tell whether a vector is nothing but readings, with the format as it is shipped."""
    return "line" not in vector and all(each["event"] == "frame" for each in vector["events"])


# One line of each format, as its source prints or describes it (see fixtures/wire/lines.json).
SAMPLES = {
    v["profile"]: bytes.fromhex(v["raw"]) for v in reversed(vectors("lines.json")) if is_read(v)
} | {
    "line-1200-8N2-padded": b"             -01.2345 in\r",
    "line-2400-7N2-modes": b"n- 0.4850I\n",
    "line-4800-7E2-plain": b"+012.3456\r",
    "line-9600-7E2-multi": b"1 +012.34 mm ;2 -000.50 mm\r",
    "line-9600-8N1-tagged": b"01A+0000.123\r",
    "line-9600-8N1-unit": b"+  2.1380, MM\r\n",
    "line-id-comma": b"GN01,+0016.2345\r\n",
    "line-two-channel": b"A-12.345\r\n",
    "text-input": b"12.345 mm\r\n",
}


def bridged(vector: dict[str, Any], port: int = 0, first: int = 0) -> bytes:
    """The bursts of a vector as a bridge sends them."""
    kind = BIT_KINDS[PROFILES[vector["profile"]].decoder].bridge
    flags = {flag.value: flag for flag in BitFlag}
    return b"".join(
        line(
            first + number,
            kind,
            bits=BitFrame(n_bits=burst["n_bits"], packed=bytes.fromhex(burst["packed"])).bits(),
            flags=frozenset(flags[name] for name in burst.get("flags", ())),
            port=port,
        )
        for number, burst in enumerate(vector["bursts"])
    )


def told(
    *data: bytes, profiles: list[Profile] = ON_SERIAL, said: Said = NOTHING, shows: str = ""
) -> Identification:
    """Identify what was heard at a port whose settings have no effect."""
    if shows:
        said = Said(shown=parse_shown(shows))
    return identify([Heard(data=each) for each in data], profiles, said)


def best(result: Identification) -> FormatFinding:
    assert result.best is not None
    return result.best


def asked(result: Identification) -> Ask | None:
    return result.question.ask if result.question else None
