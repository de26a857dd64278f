"""Frames of counts and of decimal digits with flags: words, signs, units, and what is refused."""

from __future__ import annotations

from decimal import Decimal

import pytest
from bit_encoders import Bits, bcd7, burst, inverted, nibble_bits, ones_complement, word

from gaugelink.devices.decoders.bcd import Bcd7Format
from gaugelink.devices.decoders.bits import BitDecoder, BitFlag, Complement
from gaugelink.devices.decoders.counted import (
    AbsRel48Format,
    HostClocked21Format,
    Word,
)
from gaugelink.devices.decoders.formats import make_bit_decoder
from gaugelink.model import Fault, FaultKind, Flag, Frame, WireEvent
from gaugelink.units import LengthUnit

COUNT_MM = Decimal("25.4") / 20480
BOTH = (*word(4096, 24), *word(-20480, 24))


def event_of(decoder: BitDecoder, bits: Bits, *flags: BitFlag) -> WireEvent:
    (event,) = decoder.decode(burst(bits, *flags, raw=b"as it came"))
    assert event.raw == b"as it came"
    return event


@pytest.mark.parametrize(
    ("fmt", "bits", "counts"),
    [
        (AbsRel48Format(), BOTH, -20480),
        (AbsRel48Format(word=Word.ABSOLUTE), BOTH, 4096),
        (AbsRel48Format(first_word=Word.RELATIVE), BOTH, 4096),
        (AbsRel48Format(first_word=Word.RELATIVE, word=Word.ABSOLUTE), BOTH, -20480),
        (AbsRel48Format(invert=True), inverted(BOTH), -20480),
        (AbsRel48Format(complement=Complement.ONE), BOTH, -20479),
        (AbsRel48Format(), (*word(0, 24), *word(2**23 - 1, 24)), 2**23 - 1),
        (AbsRel48Format(), (*word(0, 24), *word(-(2**23), 24)), -(2**23)),
        (
            AbsRel48Format(complement=Complement.ONE),
            (*word(0, 24), *ones_complement(-(2**23) + 1, 24)),
            -(2**23) + 1,
        ),
    ],
)
def test_the_word_that_is_wanted_is_taken(fmt: AbsRel48Format, bits: Bits, counts: int) -> None:
    event = event_of(make_bit_decoder(fmt), bits)
    assert isinstance(event, Frame)
    assert event.value == counts * COUNT_MM
    assert (event.unit, event.step, event.flags) == (LengthUnit.MM, COUNT_MM, frozenset())


@pytest.mark.parametrize(
    ("decoder", "bits"),
    [
        (
            make_bit_decoder(AbsRel48Format(unit_default=LengthUnit.INCH)),
            (*word(0, 24), *word(-20480, 24)),
        ),
        (
            make_bit_decoder(HostClocked21Format(unit_default=LengthUnit.INCH)),
            word(-2560, 21),
        ),
    ],
)
def test_counts_are_the_same_length_in_inches(decoder: BitDecoder, bits: Bits) -> None:
    event = event_of(decoder, bits)
    assert isinstance(event, Frame)
    assert (event.value, event.unit) == (-1, LengthUnit.INCH)
    assert event.step in (1 / Decimal(20480), 1 / Decimal(2560))


def test_a_minus_zero_is_a_flag() -> None:
    fmt = AbsRel48Format(complement=Complement.ONE)
    event = event_of(make_bit_decoder(fmt), (*word(7, 24), *ones_complement(-1, 24)))
    zero = event_of(make_bit_decoder(fmt), (*word(7, 24), *[1] * 24))
    assert isinstance(event, Frame)
    assert isinstance(zero, Frame)
    assert (event.value, event.flags) == (-COUNT_MM, frozenset())
    assert (str(zero.value)[:2], zero.flags) == ("0E", {Flag.NEGATIVE_ZERO})


@pytest.mark.parametrize(("counts", "mm"), [(2560, "25.4"), (-2560, "-25.4"), (1, "0.009921875")])
def test_the_host_clocked_scale_counts_2560_per_inch(counts: int, mm: str) -> None:
    for fmt in (HostClocked21Format(), HostClocked21Format(invert=True)):
        bits = word(counts, 21)
        event = event_of(make_bit_decoder(fmt), inverted(bits) if fmt.invert else bits)
        assert isinstance(event, Frame)
        assert (event.value, event.unit) == (Decimal(mm), LengthUnit.MM)
        assert event.step == Decimal("0.009921875")


@pytest.mark.parametrize(
    ("shown", "flags", "value", "unit"),
    [
        (9801, "H", "9.8015", LengthUnit.INCH),
        (9801, "", "9.8010", LengthUnit.INCH),
        (9801, "NH", "-9.8015", LengthUnit.INCH),
        (1235, "NM", "-12.35", LengthUnit.MM),
        (999999, "M", "9999.99", LengthUnit.MM),
        (0, "H", "0.0005", LengthUnit.INCH),
    ],
)
def test_digits_and_flags(shown: int, flags: str, value: str, unit: LengthUnit) -> None:
    for fmt in (Bcd7Format(), Bcd7Format(invert=True)):
        bits = bcd7(shown, flags)
        event = event_of(make_bit_decoder(fmt), inverted(bits) if fmt.invert else bits)
        assert isinstance(event, Frame)
        assert (str(event.value), event.unit) == (value, unit)
        assert event.step == Decimal("0.01" if unit is LengthUnit.MM else "0.0005")


def test_a_minus_before_zero_digits_is_a_flag() -> None:
    event = event_of(make_bit_decoder(Bcd7Format()), bcd7(0, "NM"))
    assert isinstance(event, Frame)
    assert (str(event.value), event.flags) == ("0.00", {Flag.NEGATIVE_ZERO})


@pytest.mark.parametrize(
    ("digits", "says"),
    [
        ("A000000", "digit 1 of the frame is A"),
        ("00000F0", "digit 6 of the frame is F"),
        ("1089008", "flags 8: the highest bit has no known meaning"),
        ("1089006", "flags 6: half a thousandth of an inch, but in mm"),
        ("FFFFFFF", "all bits are 1"),
    ],
)
def test_digits_and_flags_that_mean_nothing_are_refused(digits: str, says: str) -> None:
    event = event_of(make_bit_decoder(Bcd7Format()), nibble_bits(digits))
    assert isinstance(event, Fault)
    assert event.kind is FaultKind.UNPARSED
    assert event.reason.startswith(says)


DECODERS: list[tuple[BitDecoder, Bits]] = [
    (make_bit_decoder(AbsRel48Format()), BOTH),
    (make_bit_decoder(HostClocked21Format()), word(2560, 21)),
    (make_bit_decoder(Bcd7Format()), bcd7(9801, "H")),
]


@pytest.mark.parametrize(("decoder", "bits"), DECODERS)
def test_a_burst_stands_alone_and_needs_all_its_bits(decoder: BitDecoder, bits: Bits) -> None:
    first = event_of(decoder, bits)
    decoder.reset()
    assert event_of(decoder, bits) == first
    assert isinstance(first, Frame)
    cases = [
        (bits[1:], (), FaultKind.INCOMPLETE),
        ((*bits, 0), (), FaultKind.OVERLONG),
        ((), (), FaultKind.INCOMPLETE),
        (bits, (BitFlag.TRUNCATED,), FaultKind.INCOMPLETE),
        (bits, (BitFlag.EXTRA_EDGES,), FaultKind.OVERLONG),
        ((1,) * len(bits), (), FaultKind.UNPARSED),
    ]
    for wrong, flags, kind in cases:
        event = event_of(decoder, wrong, *flags)
        assert isinstance(event, Fault)
        assert event.kind is kind
