"""Whatever bits come: what was encoded comes back, and what breaks a rule is never a value."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

import pytest
from bit_encoders import (
    Bits,
    bcd7,
    bcd52,
    burst,
    inverted,
    nibble_text,
    ones_complement,
    signmag24,
    word,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from gaugelink.devices.decoders.bcd import Bcd7Format, Bcd52Format, UnitDigit
from gaugelink.devices.decoders.bits import BitFlag, Complement
from gaugelink.devices.decoders.counted import (
    AbsRel48Format,
    HostClocked21Format,
    SignMag24Format,
    Word,
)
from gaugelink.devices.decoders.formats import BitFormat, make_bit_decoder
from gaugelink.model import Fault, Flag, Frame
from gaugelink.units import LengthUnit

pytestmark = pytest.mark.campaign

MM, INCH = LengthUnit.MM, LengthUnit.INCH
HARMLESS = {BitFlag.GLITCHES, BitFlag.BUTTON, BitFlag.REQUESTED}


def frames_of(fmt: BitFormat, bits: Sequence[int], *flags: BitFlag, times: int = 2) -> list[Frame]:
    """Decode a burst ``times`` times over; every event is a value or a fault with its bytes."""
    decoder = make_bit_decoder(fmt)
    events = [e for _ in range(times) for e in decoder.decode(burst(bits, *flags, raw=b"x"))]
    assert all(isinstance(event, Frame | Fault) and event.raw for event in events)
    return [event for event in events if isinstance(event, Frame)]


def value_of(fmt: BitFormat, bits: Sequence[int]) -> Frame:
    *_, frame = frames_of(fmt, bits)
    return frame


# Text of the bits, in fours or one by one, that the published layout allows; written apart
# from the decoders, so that both must be wrong alike to agree.
@dataclass(frozen=True, kw_only=True)
class Rule:
    fmt: BitFormat
    text: Callable[[Sequence[int]], str]
    n_bits: int
    legal: str
    sample: Bits


def ones_and_zeros(bits: Sequence[int]) -> str:
    return "".join(map(str, bits))


def turned(bits: Sequence[int]) -> str:
    return ones_and_zeros(inverted(bits))


def turned_nibbles(bits: Sequence[int]) -> str:
    return nibble_text(inverted(bits))


def rule52(legal: str, sample: Bits, **options: object) -> Rule:
    fmt = replace(Bcd52Format(), **options)
    return Rule(fmt=fmt, text=nibble_text, n_bits=52, legal=legal, sample=sample)


def rule(fmt: BitFormat, legal: str, sample: Bits) -> Rule:
    in_fours = isinstance(fmt, Bcd7Format)
    flipped = getattr(fmt, "invert", False)
    plain, other = (nibble_text, turned_nibbles) if in_fours else (ones_and_zeros, turned)
    return Rule(
        fmt=fmt,
        text=other if flipped else plain,
        n_bits=len(sample),
        legal=legal,
        sample=inverted(sample) if flipped else sample,
    )


CALIPER, SCALE = signmag24(1234, negative=True), (*word(77, 24), *word(-5000, 24))
RULES = {
    "bcd52": rule52("FFFF[08][0-9]{6}[0-5][01]", bcd52(Decimal("-12.345"), 0)),
    "judged": rule52(
        "FFFF[08][0-9]{6}[0-5][0-7]", bcd52(Decimal("1.5"), 6), unit_digit=UnitDigit.JUDGED
    ),
    "inch 8": rule52(
        "FFFF[08][0-9]{6}[0-5][018]", bcd52(Decimal("1.5"), 8), unit_digit=UnitDigit.INCH_8
    ),
    "7 digits": rule52(
        "FFF(F[08][0-9]{6}[0-5][01]|[0-9][08][0-9]{6}[0-5]1)",
        bcd52(Decimal("12.34567"), 1, digits=7),
        digits=7,
    ),
    "8 digits": rule52(
        "8F[0-9]{2}[08][0-9]{6}[0-5][01]", bcd52(Decimal("12345.678"), 0, digits=8), digits=8
    ),
    "24": rule(SignMag24Format(), "[01]{21}00[01]", CALIPER),
    "24 inverted": rule(SignMag24Format(invert=True), "[01]{21}00[01]", CALIPER),
    "24 start": rule(SignMag24Format(start_bit=True), "1[01]{21}00[01]", (1, *CALIPER)),
    "24 no unit bit": rule(
        SignMag24Format(unit_bit=False, unit_default=INCH), "[01]{21}000", CALIPER
    ),
    "24 no unit": rule(SignMag24Format(unit_bit=False), "never", CALIPER),
    "2x24": rule(AbsRel48Format(), "(?=.*0)[01]{48}", SCALE),
    "2x24 inverted": rule(
        AbsRel48Format(invert=True, complement=Complement.ONE), "(?=.*0)[01]{48}", SCALE
    ),
    "28": rule(Bcd7Format(), "[0-9]{6}[0-5]", bcd7(123456, "NM")),
    "28 inverted": rule(Bcd7Format(invert=True), "[0-9]{6}[0-5]", bcd7(9801, "H")),
    "21": rule(HostClocked21Format(), "(?=.*0)[01]{21}", word(-2560, 21)),
}

ANY_BITS = st.lists(st.integers(0, 1), max_size=80).map(tuple)
EDITS = st.lists(
    st.tuples(st.sampled_from(["flip", "drop", "double"]), st.integers(0, 79)), max_size=3
)


def edited(bits: Bits, edits: Sequence[tuple[str, int]]) -> Bits:
    out = list(bits)
    for what, where in edits:
        if what == "flip" and where < len(out):
            out[where] ^= 1
        elif what == "drop":
            del out[where : where + 1]
        elif what == "double":
            out[where:where] = out[where : where + 1]
    return tuple(out)


def is_legal(each: Rule, bits: Bits, flags: set[BitFlag]) -> bool:
    whole = len(bits) == each.n_bits and flags <= HARMLESS
    return whole and re.fullmatch(each.legal, each.text(bits)) is not None


@pytest.mark.parametrize("name", RULES)
@given(edits=EDITS, other=st.none() | ANY_BITS, flags=st.sets(st.sampled_from(BitFlag), max_size=2))
def test_a_burst_is_a_value_exactly_when_it_keeps_the_rule(
    name: str, edits: list[tuple[str, int]], other: Bits | None, flags: set[BitFlag]
) -> None:
    each = RULES[name]
    bits = edited(each.sample, edits) if other is None else other
    frames = frames_of(each.fmt, bits, *flags)
    assert bool(frames) == is_legal(each, bits, flags)


@pytest.mark.parametrize("name", sorted(set(RULES) - {"24 no unit"}))
def test_the_sample_of_each_rule_is_a_value(name: str) -> None:
    each = RULES[name]
    assert is_legal(each, each.sample, set())
    assert frames_of(each.fmt, each.sample)


@pytest.mark.parametrize("name", RULES)
@settings(max_examples=20)  # for each of the rules
@given(bits=ANY_BITS)
def test_after_a_reset_a_decoder_is_as_new(name: str, bits: Bits) -> None:
    each = RULES[name]
    used = make_bit_decoder(each.fmt)
    used.decode(burst(bits))
    used.decode(burst(each.sample))
    used.reset()
    fresh = make_bit_decoder(each.fmt)
    for one in (each.sample, bits, bits):
        assert used.decode(burst(one)) == fresh.decode(burst(one))


@given(
    digits=st.sampled_from([6, 7, 8]),
    number=st.integers(0, 10**8 - 1),
    places=st.integers(0, 5),
    negative=st.booleans(),
    unit=st.sampled_from([MM, INCH]),
)
def test_a_decimal_value_comes_back_with_every_digit(
    digits: int, number: int, places: int, negative: bool, unit: LengthUnit
) -> None:
    unit = INCH if digits == 7 else unit
    value = Decimal(number % 10**digits).scaleb(-places)
    sent = value.copy_negate() if negative else value
    bits = bcd52(sent, int(unit is INCH), digits=digits)
    frame = value_of(Bcd52Format(digits=digits), bits)
    assert str(frame.value) == str(sent if value else value)
    assert (Flag.NEGATIVE_ZERO in frame.flags) == (negative and not value)
    assert frame.unit is unit


@given(
    steps=st.integers(0, 2**20 - 1),
    negative=st.booleans(),
    inch=st.booleans(),
    invert=st.booleans(),
    start_bit=st.booleans(),
    step=st.sampled_from(["0.01", "0.1", "0.05"]),
)
def test_steps_come_back_as_a_length(
    steps: int, negative: bool, inch: bool, invert: bool, start_bit: bool, step: str
) -> None:
    fmt = SignMag24Format(invert=invert, start_bit=start_bit, step_mm=Decimal(step))
    bits = (*[1] * start_bit, *signmag24(steps, negative=negative, inch=inch))
    frame = value_of(fmt, inverted(bits) if invert else bits)
    size = steps * Decimal("0.0005" if inch else step)
    assert frame.value == (-size if negative else size)
    assert frame.unit is (INCH if inch else MM)
    assert (Flag.NEGATIVE_ZERO in frame.flags) == (negative and not steps)


COUNTS24 = st.integers(-(2**23) + 1, 2**23 - 1)


@given(
    absolute=COUNTS24,
    relative=COUNTS24,
    relative_first=st.booleans(),
    take_relative=st.booleans(),
    complement=st.sampled_from(Complement),
    invert=st.booleans(),
)
def test_both_words_of_counts_come_back(
    absolute: int,
    relative: int,
    relative_first: bool,
    take_relative: bool,
    complement: Complement,
    invert: bool,
) -> None:
    fmt = AbsRel48Format(
        first_word=Word.RELATIVE if relative_first else Word.ABSOLUTE,
        word=Word.RELATIVE if take_relative else Word.ABSOLUTE,
        complement=complement,
        invert=invert,
    )
    write = ones_complement if complement is Complement.ONE else word
    words = (relative, absolute) if relative_first else (absolute, relative)
    bits = tuple(bit for counts in words for bit in write(counts, 24))
    if all(bits):
        return  # -1 twice in two's complement looks like an idle line
    frame = value_of(fmt, inverted(bits) if invert else bits)
    assert frame.value == (relative if take_relative else absolute) * Decimal("0.001240234375")


@given(shown=st.integers(0, 999999), flags=st.sets(st.sampled_from("NHM")))
def test_digits_and_flags_come_back(shown: int, flags: set[str]) -> None:
    flags = flags - {"H"} if "M" in flags else flags
    frame = value_of(Bcd7Format(), bcd7(shown, "".join(flags)))
    size = Decimal(shown).scaleb(-2 if "M" in flags else -3)
    size += Decimal("0.0005") if "H" in flags else 0
    assert frame.value == (-size if "N" in flags else size)
    assert frame.unit is (MM if "M" in flags else INCH)


@given(counts=st.integers(-(2**20), 2**20 - 1).filter(lambda n: n != -1))
def test_counts_of_21_bits_come_back(counts: int) -> None:
    frame = value_of(HostClocked21Format(), word(counts, 21))
    assert frame.value == counts * Decimal("0.009921875")
