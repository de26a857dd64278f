"""The 52-bit frame: the first broken rule is named, and every option means one thing."""

from __future__ import annotations

from itertools import product

import pytest
from bit_encoders import burst, inverted, nibble_bits

from gaugelink.devices.decoders.bcd import Bcd52Format, UnitDigit
from gaugelink.devices.decoders.bits import BitFlag
from gaugelink.devices.decoders.formats import make_bit_decoder
from gaugelink.model import Fault, FaultKind, Flag, Frame, WireEvent
from gaugelink.units import LengthUnit

GOOD = "FFFF801234530"  # -12.345 mm
MM, INCH = LengthUnit.MM, LengthUnit.INCH
BELOW, WITHIN, ABOVE = Flag.BELOW_TOLERANCE, Flag.WITHIN_TOLERANCE, Flag.ABOVE_TOLERANCE


def event_of(digits: str, *flags: BitFlag, fmt: Bcd52Format | None = None) -> WireEvent:
    (event,) = make_bit_decoder(fmt or Bcd52Format()).decode(
        burst(nibble_bits(digits), *flags, raw=b"as it came")
    )
    assert event.raw == b"as it came"
    return event


def reason_of(digits: str, *flags: BitFlag, fmt: Bcd52Format | None = None) -> str:
    event = event_of(digits, *flags, fmt=fmt)
    assert isinstance(event, Fault)
    return event.reason


@pytest.mark.parametrize(
    ("digits", "reason"),
    [
        # Each breaks one rule more than the line below it.
        ("FF7F4FFFFFF68", "header FF7F instead of FFFF"),
        ("FFFF4FFFFFF68", "sign 4 instead of 0 or 8"),
        ("FFFF8FFFFFF68", "all six digits are F: the gauge reports that it is off scale"),
        ("FFFF8FA456768", "digit 6 of the frame is F instead of 0 to 9"),
        ("FFFF812345E68", "digit 11 of the frame is E instead of 0 to 9"),
        ("FFFF812345668", "decimal point 6 instead of 0 to 5"),
        ("FFFF812345658", "unit 8 instead of 0, 1"),
    ],
)
def test_the_first_field_that_breaks_its_rule_is_named(digits: str, reason: str) -> None:
    assert reason_of(digits).startswith(reason)


@pytest.mark.parametrize("lost", [1, 2, 3, 4])
def test_a_burst_that_lost_its_first_bits_is_named(lost: int) -> None:
    bits = (*nibble_bits(GOOD)[lost:], *[1] * lost)
    (event,) = make_bit_decoder(Bcd52Format()).decode(burst(bits))
    assert isinstance(event, Fault)
    assert event.reason.endswith(": a bit was lost or added at the start")


@pytest.mark.parametrize("added", [1, 2, 3, 4])
def test_a_burst_with_zeros_in_front_is_named(added: int) -> None:
    bits = (*[0] * added, *nibble_bits(GOOD)[:-added])
    (event,) = make_bit_decoder(Bcd52Format()).decode(burst(bits))
    assert isinstance(event, Fault)
    assert event.reason.endswith(": a bit was lost or added at the start")


def test_ones_in_front_push_a_one_into_the_sign() -> None:
    (event,) = make_bit_decoder(Bcd52Format()).decode(burst((1, *nibble_bits(GOOD)[:-1])))
    assert isinstance(event, Fault)
    assert event.reason == "sign 1 instead of 0 or 8"


@pytest.mark.parametrize(
    ("n_digits", "digits"),
    [(6, GOOD), (6, "FFFF000000000"), (7, "FFF9800000051"), (8, "8F91012345630")],
)
def test_inverted_levels_are_named_and_not_turned_round(n_digits: int, digits: str) -> None:
    fmt = Bcd52Format(digits=n_digits)
    assert isinstance(event_of(digits, fmt=fmt), Frame)
    (event,) = make_bit_decoder(fmt).decode(burst(inverted(nibble_bits(digits))))
    assert isinstance(event, Fault)
    assert event.reason.endswith(": the levels are inverted")


@pytest.mark.parametrize("n_digits", [6, 7, 8])
def test_a_line_stuck_at_zero_is_no_zero(n_digits: int) -> None:
    reason = reason_of("0" * 13, fmt=Bcd52Format(digits=n_digits))
    assert reason.startswith("header 0000 instead of ")
    assert reason.endswith(": the levels are inverted")


@pytest.mark.parametrize(
    ("n_digits", "digits", "other"),
    [(6, "8F00012345630", 8), (7, "8F00012345630", 8), (8, GOOD, 6)],
)
def test_the_header_of_another_format_is_named(n_digits: int, digits: str, other: int) -> None:
    reason = reason_of(digits, fmt=Bcd52Format(digits=n_digits))
    assert reason.endswith(f": that is the header of the format with {other} digits")


def test_a_header_like_no_other_is_shown_without_a_guess() -> None:
    assert reason_of("1234012345630") == "header 1234 instead of FFFF"


@pytest.mark.parametrize("sign", range(16))
def test_every_sign(sign: int) -> None:
    event = event_of(f"FFFF{sign:X}12345630")
    values = {0: "123.456", 8: "-123.456"}
    assert (str(event.value) if isinstance(event, Frame) else None) == values.get(sign)


@pytest.mark.parametrize("places", range(16))
def test_every_decimal_point_keeps_all_its_zeros(places: int) -> None:
    event = event_of(f"FFFF0000000{places:X}0")
    shown = f"{0:.{places}f}" if places <= 5 else None
    assert (format(event.value, "f") if isinstance(event, Frame) else None) == shown


UNITS: dict[UnitDigit, dict[int, tuple[LengthUnit, Flag | None]]] = {
    UnitDigit.PLAIN: {0: (MM, None), 1: (INCH, None)},
    UnitDigit.JUDGED: {
        0: (MM, None),
        1: (INCH, None),
        2: (MM, ABOVE),
        3: (MM, WITHIN),
        4: (MM, BELOW),
        5: (INCH, ABOVE),
        6: (INCH, WITHIN),
        7: (INCH, BELOW),
    },
    UnitDigit.INCH_8: {0: (MM, None), 1: (INCH, None), 8: (INCH, None)},
}


@pytest.mark.parametrize(("meaning", "unit"), [*product(UnitDigit, range(16))])
def test_every_unit_digit_in_every_meaning(meaning: UnitDigit, unit: int) -> None:
    event = event_of(f"FFFF01234563{unit:X}", fmt=Bcd52Format(unit_digit=meaning))
    expected = UNITS[meaning].get(unit)
    if expected is None:
        assert isinstance(event, Fault)
        assert event.reason.startswith(f"unit {unit:X} instead of 0, 1")
    else:
        assert isinstance(event, Frame)
        assert (event.unit, event.flags) == (expected[0], {expected[1]} - {None})


@pytest.mark.parametrize(
    ("n_digits", "digits", "value"),
    [
        (7, "FFFF012345630", "123.456"),  # unused in mm
        (7, "FFF0012345651", "1.23456"),
        (7, "FFF9012345651", "91.23456"),
        (7, "FFF9012345650", None),  # mm has no seventh digit
        (7, "FFFA012345651", None),
        (7, "FF99012345651", None),
        (8, "8F98012345630", "98123.456"),
        (8, "8F09812345651", "-91.23456"),
        (8, "8FFF012345630", None),
        (8, "8F0A012345630", None),
        (8, "8E00012345630", None),
        (8, "FF12012345630", None),
        (6, "FFF1012345651", None),
    ],
)
def test_leading_digits_stand_only_where_the_format_has_them(
    n_digits: int, digits: str, value: str | None
) -> None:
    event = event_of(digits, fmt=Bcd52Format(digits=n_digits))
    assert (str(event.value) if isinstance(event, Frame) else None) == value


def test_a_minus_before_zero_is_a_flag_beside_the_judgement() -> None:
    event = event_of("FFFF800000023", fmt=Bcd52Format(unit_digit=UnitDigit.JUDGED))
    assert isinstance(event, Frame)
    assert str(event.value) == "0.00"
    assert event.flags == {Flag.NEGATIVE_ZERO, WITHIN}


@pytest.mark.parametrize(
    ("flag", "kind"),
    [
        (BitFlag.TRUNCATED, FaultKind.INCOMPLETE),
        (BitFlag.EXTRA_EDGES, FaultKind.OVERLONG),
        (BitFlag.OVERRUN, FaultKind.INCOMPLETE),
        (BitFlag.GLITCHES, None),
        (BitFlag.BUTTON, None),
        (BitFlag.REQUESTED, None),
    ],
)
def test_what_the_collector_noticed_decides_before_the_bits(
    flag: BitFlag, kind: FaultKind | None
) -> None:
    event = event_of(GOOD, flag)
    assert (event.kind if isinstance(event, Fault) else None) == kind


@pytest.mark.parametrize("n_bits", [*range(52), *range(53, 81)])
def test_any_other_number_of_bits_is_refused_by_number(n_bits: int) -> None:
    bits = (nibble_bits(GOOD) * 2)[:n_bits]
    (event,) = make_bit_decoder(Bcd52Format()).decode(burst(bits))
    assert isinstance(event, Fault)
    assert event.reason.startswith(f"{n_bits} bits instead of 52: ")
    assert event.kind is (FaultKind.INCOMPLETE if n_bits < 52 else FaultKind.OVERLONG)
