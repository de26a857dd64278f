"""Published and constructed bursts become the events they should, alone and through a bridge."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from bit_encoders import nibble_text
from bridge_lines import line

from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.decoders.bcd import UnitDigit
from gaugelink.devices.decoders.bits import BitFlag, BitFrame, Complement
from gaugelink.devices.decoders.counted import Word
from gaugelink.devices.decoders.formats import bit_kind, make_bit_decoder
from gaugelink.devices.profiles.profile import Profile, find_profile
from gaugelink.model import Frame, WireEvent
from gaugelink.units import LengthUnit

FIXTURE = Path(__file__).parents[3] / "fixtures" / "wire" / "bits.json"
VECTORS: list[dict[str, Any]] = json.loads(FIXTURE.read_text(encoding="utf-8"))["vectors"]
BY_ID = {vector["id"]: vector for vector in VECTORS}
OPTIONS = {"unit_digit": UnitDigit, "complement": Complement, "word": Word, "first_word": Word}

every_vector = pytest.mark.parametrize("vector", VECTORS, ids=lambda v: v["id"])
truths = pytest.mark.parametrize(
    "vector", [v for v in VECTORS if "contradicts" not in v], ids=lambda v: v["id"]
)


def profile_of(vector: dict[str, Any]) -> Profile:
    profile = find_profile(vector["profile"])
    changes = {k: OPTIONS.get(k, bool)(v) for k, v in vector.get("bits", {}).items()}
    assert profile.bits is not None
    return replace(profile, wire=replace(profile.bits, **changes))


def bursts_of(vector: dict[str, Any]) -> list[BitFrame]:
    return [
        BitFrame(
            n_bits=each["n_bits"],
            packed=bytes.fromhex(each["packed"]),
            flags=frozenset(BitFlag(flag) for flag in each.get("flags", ())),
            raw=f"burst {number};".encode(),
        )
        for number, each in enumerate(vector["bursts"])
    ]


def decoded(vector: dict[str, Any], bursts: list[BitFrame]) -> list[WireEvent]:
    bits = profile_of(vector).bits
    assert bits is not None
    decoder = make_bit_decoder(bits)
    return [event for each in bursts for event in decoder.decode(each)]


def check(events: list[WireEvent], expected: list[dict[str, Any]]) -> None:
    assert [isinstance(event, Frame) for event in events] == [
        each["event"] == "frame" for each in expected
    ]
    for event, each in zip(events, expected, strict=True):
        if isinstance(event, Frame):
            step = None if each["step"] is None else Decimal(each["step"])
            assert (event.value, event.step) == (Decimal(each["value"]), step)
            assert (event.unit, event.channel) == (LengthUnit(each["unit"]), "")
            assert sorted(event.flags) == sorted(each["flags"])
            assert not event.value.is_zero() or not event.value.is_signed()
        else:
            assert event.kind == each["kind"]
            assert each["says"] in event.reason


@truths
def test_a_vector_gives_its_events(vector: dict[str, Any]) -> None:
    check(decoded(vector, bursts_of(vector)), vector["events"])


@pytest.mark.parametrize("name", ["A5", "A6", "A17"])
def test_what_the_bits_of_a_source_that_contradicts_itself_say(name: str) -> None:
    """These show that the bits are legal; which half of the source is wrong is not known."""
    vector = BY_ID[name]
    assert vector["contradicts"]
    check(decoded(vector, bursts_of(vector)), vector["events"])


def test_every_promised_vector_is_there_and_every_source_is_named() -> None:
    promised = {f"A{i}" for i in range(1, 29)} | {f"B{i}" for i in range(1, 16)}
    promised |= {f"C{i}" for i in range(1, 8)} | {f"D{i}" for i in range(1, 4)}
    assert promised <= set(BY_ID)
    assert len(BY_ID) == len(VECTORS)
    assert all(len(vector["source"]) > 8 or vector["source"] == "constructed" for vector in VECTORS)
    assert {v["id"] for v in VECTORS if "contradicts" in v} == {"A5", "A6", "A17"}
    assert {v["id"] for v in VECTORS if "undetectable" in v} == {"A28", "B14"}


@every_vector
def test_the_hex_and_the_printed_bits_of_a_vector_agree(vector: dict[str, Any]) -> None:
    wires = vector.get("wire", "").split() or [None]
    for each, wire in zip(vector["bursts"], wires * len(vector["bursts"]), strict=False):
        filled = "".join(f"{byte:08b}"[::-1] for byte in bytes.fromhex(each["packed"]))
        bits, filler = filled[: each["n_bits"]], filled[each["n_bits"] :]
        assert len(bits) == each["n_bits"]
        assert len(filler) < 8
        assert "1" not in filler
        if wire is None:
            assert nibble_text([int(bit) for bit in bits]) == vector["nibbles"]
        elif len(wires) == 1:
            assert bits == wire
    if len(wires) > 1:
        shown = [BitFrame.bits(frame) for frame in bursts_of(vector)]
        assert [tuple(map(int, wire)) for wire in wires] == shown


@truths
def test_a_vector_loses_none_of_its_bytes(vector: dict[str, Any]) -> None:
    bursts = bursts_of(vector)
    events = decoded(vector, bursts)
    assert b"".join(event.raw for event in events) == b"".join(each.raw for each in bursts)


@truths
def test_a_vector_comes_through_the_bridge_unchanged(vector: dict[str, Any]) -> None:
    profile = profile_of(vector)
    assert profile.bits is not None
    kind = bit_kind(profile.bits).bridge
    bursts = bursts_of(vector)
    lines = [line(n, kind, bits=b.bits(), flags=b.flags) for n, b in enumerate(bursts)]
    for chunks in (lines, [bytes([byte]) for each in lines for byte in each]):
        decoder = make_decoder(profile)
        events = [event for chunk in chunks for event in decoder.feed(chunk)] + decoder.flush()
        check(events, vector["events"])
        assert b"".join(event.raw for event in events) == b"".join(lines)


# Lines as the bridge protocol's own examples have them; the checksums are part of the examples.
@pytest.mark.parametrize(
    ("name", "lines", "value"),
    [
        ("bcd52", [b"#001,0,N52,52,FFFF0821433500,0*5AED\r\n"], "-12.345"),
        ("bcd52", [b"#003,0,N52,51,FFFF0821433500,T*5C71\r\n"], None),
        ("signmag24", [b"#002,0,B24,24,960000,0*6D4F\r\n"], None),
    ],
)
def test_a_literal_bridge_line_reaches_the_bit_decoder(
    name: str, lines: list[bytes], value: str | None
) -> None:
    decoder = make_decoder(find_profile(name))
    events = [event for each in lines for event in decoder.feed(each)]
    frames = [str(event.value) for event in events if isinstance(event, Frame)]
    assert frames == ([] if value is None else [value])
    assert all(event.raw == each for event, each in zip(events, lines, strict=False))


def test_only_the_edge_count_tells_a_bit_that_was_read_twice() -> None:
    """A28 is legal and wrong; with the edges counted it is refused, cut or uncut."""
    (wrong,) = decoded(BY_ID["A28"], bursts_of(BY_ID["A28"]))
    assert isinstance(wrong, Frame)
    assert wrong.value == Decimal("94.5219")  # sent: 9452.15
    for name in ("A28-edges", "A28-53"):
        (event,) = decoded(BY_ID[name], bursts_of(BY_ID[name]))
        assert not isinstance(event, Frame)


def test_only_an_equal_pair_keeps_out_a_lost_first_bit() -> None:
    """B14 is legal and wrong; as long as it does not repeat, no value comes of it."""
    first, second = bursts_of(BY_ID["B14"])
    assert decoded(BY_ID["B14"], [first]) == []
    good = bursts_of(BY_ID["B1"])[0]
    assert decoded(BY_ID["B14"], [good, first, good, first]) == []
    (wrong,) = decoded(BY_ID["B14"], [first, second])
    assert isinstance(wrong, Frame)
    assert wrong.value == Decimal("0.75")  # shown: 1.50
