"""HID vectors, and decoders to play them on, for the tests of the HID files."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from gaugelink.devices.contract import Decoder
from gaugelink.devices.decoders.hid_descriptor import frame_descriptor, frame_report
from gaugelink.devices.decoders.hid_keys import HidKeysDecoder, HidKeysFormat
from gaugelink.devices.decoders.line import LineFormat
from gaugelink.devices.profiles.profile import find_profile
from gaugelink.model import WireEvent

FIXTURES = Path(__file__).parents[2] / "fixtures"
DATA = json.loads((FIXTURES / "wire" / "hid.json").read_text(encoding="utf-8"))
KEYS: list[dict[str, Any]] = DATA["keys"]
FIELDS: list[dict[str, Any]] = DATA["fields"]
BOOT_DESCRIPTOR = bytes.fromhex(DATA["boot_keyboard"]["descriptor"])

# A bitmap of the keys 0x04 to 0x63 behind report ID 1, eight modifiers before it, and a
# volume key behind report ID 2; constructed after HID 1.11, 6.2.2.
BITMAP = bytes.fromhex(
    "05 01 09 06 a1 01 85 01 05 07 19 e0 29 e7 15 00 25 01 75 01 95 08 81 02"
    "19 04 29 63 95 60 81 02 c0 05 0c 09 01 a1 01 85 02 09 e9 95 01 81 02 95 07 81 03 c0"
)

# Report 1: a button byte, two lengths of 16 bits in 0.01 mm, a status byte; report 2: a
# battery byte. Constructed after HID 1.11, 6.2.2.
TWO_LENGTHS = bytes.fromhex(
    "06 00 ff 09 01 a1 01 85 01 09 02 15 00 25 01 75 08 95 01 81 02"
    "09 10 09 11 16 01 80 26 ff 7f 55 0d 65 11 75 10 95 02 81 02"
    "09 12 15 00 26 ff 00 64 54 75 08 95 01 81 02 85 02 09 20 81 02 c0"
)

# Gives every line back as text, so that keys are tested apart from numbers.
ANY_LINE = LineFormat(
    pattern=re.compile("(?P<value>x)"), line_end=(b"\n",), ident_pattern=re.compile(".*")
)


def keys_decoder(line: LineFormat = ANY_LINE, **changes: Any) -> HidKeysDecoder:
    return HidKeysDecoder(HidKeysFormat(line=line, **changes))


def text_input() -> LineFormat:
    line = find_profile("text-input").line
    assert line is not None
    return line


def stream(reports: Iterable[str | bytes], descriptor: bytes = b"") -> bytes:
    """Frame reports, given as bytes or in hex, behind a descriptor if there is one."""
    raw = (r if isinstance(r, bytes) else bytes.fromhex(r) for r in reports)
    head = frame_descriptor(descriptor) if descriptor else b""
    return head + b"".join(frame_report(report) for report in raw)


def play(decoder: Decoder, chunks: Iterable[bytes]) -> list[WireEvent]:
    events = [event for chunk in chunks for event in decoder.feed(chunk)]
    return events + decoder.flush()


def down(*keys: int, shift: bool = False) -> bytes:
    """Return the report of a boot keyboard with these keys down."""
    return bytes([2 * shift, 0, *keys]).ljust(8, b"\0")
