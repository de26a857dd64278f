"""The fields and the checksum of one bridge line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from bridge_lines import crc16, ident_line, line, sealed
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.devices.decoders.bits import BitFlag, pack
from gaugelink.devices.decoders.bridge_line import (
    LINE_KINDS,
    MAX_LINE_BYTES,
    BridgeRecord,
    read_record,
)
from gaugelink.model import Fault, FaultKind

DATA = json.loads(
    (Path(__file__).parents[3] / "fixtures/wire/bridge.json").read_text(encoding="utf-8")
)
J1 = DATA["vectors"][0]["wire"].encode()


def test_the_checksum_has_its_check_value() -> None:
    check = DATA["crc_check"]
    assert f"{crc16(check['text'].encode()):04X}" == check["crc"]


@given(
    number=st.integers(0, 999),
    port=st.integers(0, 9),
    kind=st.sampled_from(sorted(LINE_KINDS)),
    bits=st.lists(st.integers(0, 1), max_size=160),
    flags=st.frozensets(st.sampled_from(BitFlag)),
)
def test_what_is_written_is_read(
    number: int, port: int, kind: str, bits: list[int], flags: frozenset[BitFlag]
) -> None:
    raw = line(number, kind, bits=bits, flags=flags, port=port)
    assert len(raw) <= MAX_LINE_BYTES
    assert read_record(raw) == BridgeRecord(
        number=number,
        port=port,
        kind=kind,
        n_bits=len(bits),
        packed=pack(bits),
        flags=flags,
        raw=raw,
    )


def test_no_single_damaged_byte_passes() -> None:
    for at in range(len(J1)):
        for byte in range(256):
            damaged = J1[:at] + bytes([byte]) + J1[at + 1 :]
            assert isinstance(read_record(damaged), Fault) or damaged == J1, (at, byte)


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ("001,0,N53,52,FFFF0821433500,0", "'N53'"),
        ("001,0,N52,52,ffff0821433500,0", "fields"),
        ("001,0,N52,52,FFFF082143350,0", "fields"),
        ("001,0,N52,052,FFFF0821433500,0", "fields"),
        ("1,0,N52,52,FFFF0821433500,0", "fields"),
        ("001,10,N52,52,FFFF0821433500,0", "fields"),
        ("001,0,N52,52,FFFF0821433500,", "fields"),
        ("001,0,N52,52,FFFF0821433500,0T", "fields"),
        ("001,0,N52,52,FFFF0821433500,Z", "fields"),
        ("001,0,N52,52,FFFF0821433500,0,0", "fields"),
        ("001,0,N52,52,FFFF08214335,0", "52 bits"),
        ("001,0,N52,52,FFFF082143350000,0", "52 bits"),
        ("001,0,N52,52,FFFF0821433510,0", "52 bits"),  # bit 52 is set
        ("001,0,HB,1,,0", "1 bits"),
        ("001,0,N52,52,ÿFFF0821433500,0", "fields"),
        ("001,0,N52,5\u0662,FFFF0821433500,0", "fields"),  # a digit, but not an ASCII one
        ("", "fields"),
    ],
)
def test_a_right_checksum_does_not_excuse_wrong_fields(fields: str, says: str) -> None:
    fault = read_record(sealed(fields))
    assert isinstance(fault, Fault)
    assert fault.kind is FaultKind.UNPARSED
    assert says in fault.reason
    assert fault.raw == sealed(fields)


@pytest.mark.parametrize(
    "raw",
    [
        J1[1:],
        J1.replace(b"\r\n", b"\n"),
        J1.replace(b"\r\n", b"\r"),
        J1 + b"\r\n",
        J1.lower(),
        J1.replace(b"*", b"**"),
        b"\xff" + J1,
        b"\n",
        b"",
    ],
)
def test_what_is_no_whole_line_is_a_fault_with_its_bytes(raw: bytes) -> None:
    fault = read_record(raw)
    assert isinstance(fault, Fault)
    assert fault.kind is FaultKind.UNPARSED
    assert fault.raw == raw


def test_an_ident_line_carries_its_text_as_bits() -> None:
    record = read_record(ident_line(0, "gaugelink-bridge 1 N52"))
    assert isinstance(record, BridgeRecord)
    assert record.packed == b"gaugelink-bridge 1 N52"
