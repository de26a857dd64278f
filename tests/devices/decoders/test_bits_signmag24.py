"""The 24-bit frame: a value passes on its equal, and no bytes get lost on the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

import pytest
from bit_encoders import Bits, burst, inverted, signmag24
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.devices.decoders.bits import MAX_WAITING, BitFlag
from gaugelink.devices.decoders.counted import SignMag24Format
from gaugelink.devices.decoders.formats import make_bit_decoder
from gaugelink.model import Fault, FaultKind, Frame, WireEvent
from gaugelink.units import LengthUnit

PLAIN = SignMag24Format()
A, B, BAD = signmag24(150), signmag24(151), signmag24(150)[:23]


def play(bursts: Sequence[Bits], fmt: SignMag24Format = PLAIN) -> list[list[WireEvent]]:
    """Decode bursts whose raw bytes are their numbers; return the events of each."""
    decoder = make_bit_decoder(fmt)
    return [decoder.decode(burst(bits, raw=b"%d;" % n)) for n, bits in enumerate(bursts)]


def in_short(events: Sequence[Sequence[WireEvent]]) -> str:
    """Write a dot for nothing, a ``v`` for a value, an ``x`` for a fault."""
    return "".join(
        "".join("v" if isinstance(e, Frame) else "x" for e in es) or "." for es in events
    )


@pytest.mark.parametrize(
    ("bursts", "short"),
    [
        ([A], "."),
        ([A, A], ".v"),
        ([A, A, A, A], ".vvv"),  # a gauge at rest keeps sending
        ([A, B, A, B], "...."),
        ([A, B, B, A], "..v."),
        ([A, A, B, A, A], ".v..v"),
        ([BAD, A, A], "x.v"),
        ([A, BAD, A, A], ".x.v"),  # not in a row
        ([A, A, BAD, A], ".vx."),
        ([BAD, BAD], "xx"),
    ],
)
def test_a_value_passes_when_the_burst_before_was_equal(bursts: list[Bits], short: str) -> None:
    assert in_short(play(bursts)) == short


def test_a_zero_and_a_negative_zero_are_not_equal() -> None:
    assert in_short(play([signmag24(0), signmag24(0, negative=True)])) == ".."


def test_a_value_carries_the_bytes_of_all_bursts_since_the_event_before() -> None:
    events = play([B, A, A, A, B, BAD, B, B])
    assert [[event.raw for event in each] for each in events] == [
        [], [], [b"0;1;2;"], [b"3;"], [], [b"4;5;"], [], [b"6;7;"],
    ]  # fmt: skip


def test_a_display_that_never_rests_is_a_fault_now_and_then() -> None:
    events = play([A, B] * MAX_WAITING)
    assert in_short(events) == ("." * (MAX_WAITING - 1) + "x") * 2
    (fault,) = events[MAX_WAITING - 1]
    assert isinstance(fault, Fault)
    assert fault.kind is FaultKind.UNPARSED
    assert "without two equal ones" in fault.reason
    assert fault.raw.split(b";")[:-1] == [b"%d" % n for n in range(MAX_WAITING)]


def test_the_burst_behind_such_a_fault_may_still_be_its_equal() -> None:
    moving = [signmag24(n) for n in range(MAX_WAITING)]
    assert in_short(play([*moving, moving[-1]]))[-2:] == "xv"


def test_reset_forgets_the_burst_before_and_its_bytes() -> None:
    decoder = make_bit_decoder(PLAIN)
    assert decoder.decode(burst(A, raw=b"old")) == []
    decoder.reset()
    assert decoder.decode(burst(A, raw=b"new")) == []
    (frame,) = decoder.decode(burst(A, raw=b"er"))
    assert frame.raw == b"newer"


@given(st.lists(st.sampled_from([A, B, BAD, signmag24(7, inch=True), (1,) * 24]), max_size=150))
def test_no_byte_is_lost_and_none_comes_twice(bursts: list[Bits]) -> None:
    decoder = make_bit_decoder(PLAIN)
    seen, sent = b"", b""
    for n, bits in enumerate(bursts):
        sent += b"%d;" % n
        seen += b"".join(e.raw for e in decoder.decode(burst(bits, raw=b"%d;" % n)))
        assert sent.startswith(seen)
        assert sent.removeprefix(seen).count(b";") < MAX_WAITING
    last = decoder.decode(burst(BAD, raw=b"end"))
    assert seen + last[0].raw == sent + b"end"


@pytest.mark.parametrize("flag", [BitFlag.TRUNCATED, BitFlag.EXTRA_EDGES, BitFlag.OVERRUN])
def test_a_burst_in_doubt_is_no_equal(flag: BitFlag) -> None:
    decoder = make_bit_decoder(PLAIN)
    events = [decoder.decode(burst(A, *flags)) for flags in ([], [flag], [])]
    assert in_short(events) == ".x."


@pytest.mark.parametrize(
    ("fmt", "bits", "value"),
    [
        (PLAIN, signmag24(2**20 - 1), "10485.75"),
        (replace(PLAIN, step_mm=Decimal("0.1")), signmag24(1234), "123.4"),
        (replace(PLAIN, step_mm=Decimal(1)), signmag24(1234, negative=True), "-1234"),
        (replace(PLAIN, step_inch=Decimal("0.001")), signmag24(1500, inch=True), "1.500"),
        (replace(PLAIN, invert=True), inverted(A), "1.50"),
        (replace(PLAIN, start_bit=True), (1, *A), "1.50"),
        (replace(PLAIN, start_bit=True, invert=True), (0, *inverted(A)), "1.50"),
    ],
)
def test_the_options_of_the_format(fmt: SignMag24Format, bits: Bits, value: str) -> None:
    _, (frame,) = play([bits, bits], fmt)
    assert isinstance(frame, Frame)
    assert str(frame.value) == value
    assert frame.step == (fmt.step_mm if frame.unit is LengthUnit.MM else fmt.step_inch)


@pytest.mark.parametrize(
    ("fmt", "bits", "says"),
    [
        (PLAIN, (1,) * 24, "all bits are 1"),
        (replace(PLAIN, invert=True), (0,) * 24, "all bits are 1"),
        (replace(PLAIN, start_bit=True), (1,) * 25, "all bits are 1"),
        (replace(PLAIN, start_bit=True), (0, *A), "the start bit is 0"),
        (replace(PLAIN, start_bit=True), A, "24 bits instead of 25"),
        (PLAIN, (*A[:21], 1, 0, 0), "reserved bits 21 and 22 are 1 and 0"),
        (PLAIN, (*A[:21], 1, 1, 0), "1 and 1: the levels are inverted"),
        (replace(PLAIN, unit_bit=False), signmag24(1, inch=True), "has no unit bit"),
        (replace(PLAIN, unit_bit=False), A, "does not say mm or inch"),
    ],
)
def test_what_is_refused_says_why(fmt: SignMag24Format, bits: Bits, says: str) -> None:
    ((fault,),) = play([bits], fmt)
    assert isinstance(fault, Fault)
    assert says in fault.reason
    no_unit = "mm or inch" in says
    assert (fault.kind is FaultKind.NO_UNIT) == no_unit


@pytest.mark.parametrize(("unit", "value"), [(LengthUnit.MM, "1.50"), (LengthUnit.INCH, "0.0750")])
def test_without_a_unit_bit_the_unit_that_was_given_holds(unit: LengthUnit, value: str) -> None:
    fmt = replace(PLAIN, unit_bit=False, unit_default=unit)
    _, (frame,) = play([A, A], fmt)
    assert isinstance(frame, Frame)
    assert (str(frame.value), frame.unit) == (value, unit)


def test_the_unit_bit_wins_over_the_unit_that_was_given() -> None:
    _, (frame,) = play([A, A], replace(PLAIN, unit_default=LengthUnit.INCH))
    assert isinstance(frame, Frame)
    assert frame.unit is LengthUnit.MM
