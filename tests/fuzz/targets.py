"""What is fuzzed: one function a family, which takes bytes and may raise nothing undeclared.

A target raises only when the code under it is wrong: an exception that no contract names, an
event of another type than promised, a number that is not finite, or memory that grows.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Callable, Mapping
from contextlib import suppress
from decimal import Decimal
from functools import cache
from pathlib import Path

from gaugelink.devices.address import parse_address
from gaugelink.devices.contract import Decoder
from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.decoders.bits import BitFrame
from gaugelink.devices.decoders.formats import make_bit_decoder
from gaugelink.devices.decoders.hid_descriptor import frame_descriptor, parse_descriptor
from gaugelink.devices.decoders.hid_field import HidFieldDecoder, HidFieldFormat
from gaugelink.devices.gauge import UnitRule
from gaugelink.devices.profiles.profile import Profile, load_profiles
from gaugelink.devices.recordings.recording import read_recording
from gaugelink.errors import (
    DeviceError,
    FileFormatError,
    InputError,
    ProfileError,
    RecordingError,
)
from gaugelink.jobbook.export import read_job_file
from gaugelink.model import Fault, Frame, Ident, Reading, WireEvent
from gaugelink.quantities import (
    parse_count,
    parse_length,
    parse_mass,
    parse_positive,
    parse_spring,
)
from gaugelink.stock.reading import read_stock
from gaugelink.units import LengthUnit

MAX_HELD_BYTES = 80_000  # a decoder holds less than one record; the longest is a descriptor
PLAIN_FIELD = HidFieldFormat(bit_offset=3, bit_size=9, step=Decimal("0.01"))


@cache
def profiles_of(field: str) -> tuple[Profile, ...]:
    """Return the shipped profiles that have a format of this sort."""
    found = load_profiles()
    return tuple(p for p in map(found.find, found.names) if getattr(p, field) is not None)


def judge(events: list[WireEvent]) -> None:
    """Hold events to what the contract says of them."""
    units = UnitRule()
    for event in events:
        if not isinstance(event, Frame | Fault | Ident):
            raise AssertionError(f"not an event: {event!r}")
        if isinstance(event, Frame):
            reading = units.judge(event)
            if isinstance(reading, Reading) and not math.isfinite(reading.value_mm):
                raise AssertionError(f"not a finite length: {event!r}")


def held_bytes(part: object, depth: int = 0) -> int:
    """Add up the bytes and text that a decoder keeps, in itself and in its parts."""
    if isinstance(part, bytes | bytearray | str):
        return len(part)
    if isinstance(part, list | tuple | set | frozenset):
        return sum(held_bytes(each, depth + 1) for each in part)
    if depth > 3 or not type(part).__module__.startswith("gaugelink"):
        return 0
    return sum(held_bytes(each, depth + 1) for each in getattr(part, "__dict__", {}).values())


def play(decoder: Decoder, data: bytes, n_cuts: int) -> None:
    """Feed bytes in equal pieces, then silence, and hold the decoder to its contract."""
    size = len(data) // (n_cuts + 1) + 1
    for start in range(0, len(data), size):
        judge(decoder.feed(data[start : start + size]))
        if held_bytes(decoder) > MAX_HELD_BYTES:
            raise AssertionError(f"{type(decoder).__name__} holds {held_bytes(decoder)} bytes")
    judge(decoder.flush())


def of_profile(field: str, data: bytes) -> None:
    """Play bytes to the format that the first byte picks."""
    found = profiles_of(field)
    if len(data) > 2:
        unit = (None, *LengthUnit)[data[1] % 3]
        play(make_decoder(found[data[0] % len(found)], unit=unit), data[2:], data[1] % 7)


def lines(data: bytes) -> None:
    of_profile("line", data)


def bridge(data: bytes) -> None:
    of_profile("bits", data)


def bursts(data: bytes) -> None:
    """Decode any bits, whatever the checksum of a bridge would keep away."""
    found = profiles_of("bits")
    if len(data) < 3:
        return
    fmt = found[data[0] % len(found)].bits
    assert fmt is not None
    decoder = make_bit_decoder(fmt)
    n_bits = min(data[1] % 80, 8 * (len(data) - 2))
    frame = BitFrame(n_bits=n_bits, packed=data[2:], raw=data)
    for _ in range(2):
        judge(decoder.decode(frame))


def hid_keys(data: bytes) -> None:
    (keyboard,) = (p for p in profiles_of("hid") if p.name == "hid-keyboard")
    if len(data) > 1:
        play(make_decoder(keyboard), data[1:], data[0] % 7)


def hid_field(data: bytes) -> None:
    """Read a descriptor and reports: the descriptor alone may be refused with a DeviceError."""
    if len(data) < 2:
        return
    cut = data[0] * (len(data) - 1) // 255
    with suppress(DeviceError):
        parse_descriptor(data[1 : 1 + cut])
    for fmt in (HidFieldFormat(), PLAIN_FIELD):
        play(HidFieldDecoder(fmt), frame_descriptor(data[1 : 1 + cut]) + data[1 + cut :], 0)


@cache
def scratch() -> Path:
    return Path(tempfile.mkdtemp(prefix="gaugelink-fuzz-"))


def recordings(data: bytes) -> None:
    path = scratch() / "exchange.jsonl"
    path.write_bytes(data)
    with suppress(RecordingError):
        read_recording(path)


def profiles(data: bytes) -> None:
    path = scratch() / "mine.toml"
    path.write_bytes(data)
    with suppress(ProfileError):
        profile = load_profiles([scratch()]).find("mine")
        play(make_decoder(profile, unit=LengthUnit.MM), b"+12.34 mm\r\n", 0)


def addresses(data: bytes) -> None:
    with suppress(InputError):
        parse_address(data.decode("utf-8", "surrogateescape"))


def quantities(data: bytes) -> None:
    text = data.decode("utf-8", "replace")
    for parse in (parse_length, parse_positive, parse_spring, parse_mass, parse_count):
        with suppress(InputError):
            parse(text, "bore")


def stock_lists(data: bytes) -> None:
    path = scratch() / "springs.csv"
    path.write_bytes(data)
    with suppress(FileFormatError):
        for spring in read_stock(path).springs:
            if not math.isfinite(spring.height_mm + spring.thickness_mm + spring.length_mm):
                raise AssertionError(f"not a spring: {spring!r}")


def job_files(data: bytes) -> None:
    path = scratch() / "jobs.json"
    path.write_bytes(data)
    with suppress(FileFormatError):
        read_job_file(path)


TARGETS: Mapping[str, Callable[[bytes], None]] = {
    each.__name__: each
    for each in (
        lines, bridge, bursts, hid_keys, hid_field, recordings, profiles, addresses, quantities,
        stock_lists, job_files,
    )
}  # fmt: skip

SEEDS: Mapping[str, tuple[bytes, ...]] = {
    "lines": tuple(
        bytes([i, 1]) + line
        for i in range(9)
        for line in (b"+12.34\r\n", b"01A+0000.123\r", b"+  2.1380, MM\r\n", b"GN01,+0016.2345\r\n",
                     b"1 +012.34 mm ;2 -000.50 mm\r", b"A-1.5 B+6.8\r\n", b"n+ 1.25M\n", b"ERR3\r")
    ),
    "bridge": (
        b"\x00\x00#001,0,N52,52,FFFF0821433500,0*5AED\r\n#004,0,HB,0,,0*2296\r\n",
        b"\x07\x03#002,0,B24,24,960000,0*6D4F\r\n#002,0,B24,24,960000,0*6D4F\r\n",
    ),
    "bursts": tuple(bytes([i, 52]) + bytes.fromhex("FFFF0821433500") for i in range(8)),
    "hid_keys": (b"\x00" + bytes.fromhex("0800001e0000000000" "080000000000000000"),),
    "hid_field": (
        b"\xd8" + bytes.fromhex(
            "0600ff0901a1018501091016018026ff7f550d65117510950181 02c0" "03017e04"),
    ),
    "recordings": (
        b'{"gaugelink_recording": 1, "format": "text-input"}\n{"t_s": 0.5, "received_hex": "0d"}\n',
    ),
    "profiles": (
        b"title = 'x'\nsummary = 'x'\nsource = 'x'\n[line]\n"
        b"pattern = '(?P<sign>[-+])(?P<value>[0-9.]+) (?P<unit>mm)'\nline_end = '\\r'\n",
        b"title = 'x'\nsummary = 'x'\nsource = 'x'\ndecoder = 'bcd52'\n[bits]\ndigits = 7\n",
    ),
    "addresses": (b"serial:/dev/ttyUSB0?format=bcd52&unit=mm", b"socket://127.0.0.1:5000?x=1"),
    "quantities": (
        b"11.02 +- 0.03 mm", b"12/100", b"1.5 x 0.12 x 300", b"0.433 in", b"497 +- 1 mg",
    ),
    "stock_lists": (b"item;height;thickness (1/100 mm);length\nA1;1,2;12;360\n", b"PK\x03\x04"),
    "job_files": (b'{"kind": "gaugelink jobs", "schema": 1, "jobs": []}', b'{"schema": 99}'),
}  # fmt: skip
