"""Fields of HID reports become lengths, exactly, or faults."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hid_bench import DATA, FIELDS, TWO_LENGTHS, play, stream
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.devices.decoders.hid_descriptor import FieldLimits, frame_report, parse_descriptor
from gaugelink.devices.decoders.hid_field import (
    CENTIMETRE,
    INCH,
    HidFieldDecoder,
    HidFieldFormat,
    scale_of,
)
from gaugelink.errors import DeviceError
from gaugelink.model import Fault, FaultKind, Frame, WireEvent
from gaugelink.units import LengthUnit, to_mm

every_vector = pytest.mark.parametrize("vector", FIELDS, ids=lambda v: v["id"])

REPORT = "01 00 d2 04 2e fb 07"  # 1234 and -1234 counts


def fields_of(vector: dict[str, Any]) -> list[WireEvent]:
    fmt = HidFieldFormat(**vector.get("format", {}))
    wire = stream([vector["report"]], bytes.fromhex(vector["descriptor"]))
    whole = play(HidFieldDecoder(fmt), [wire])
    assert play(HidFieldDecoder(fmt), [bytes([byte]) for byte in wire]) == whole
    return whole


def one(fmt: HidFieldFormat, report: str = REPORT, descriptor: bytes = TWO_LENGTHS) -> WireEvent:
    (event,) = play(HidFieldDecoder(fmt), [stream([report], descriptor)])
    return event


def reason_of(event: WireEvent) -> str:
    assert isinstance(event, Fault), event
    return event.reason


def value_of(event: WireEvent) -> str:
    assert isinstance(event, Frame), event
    return str(event.value)


@every_vector
def test_a_vector_gives_its_length_or_its_fault(vector: dict[str, Any]) -> None:
    (event,) = fields_of(vector)
    assert event.raw == frame_report(bytes.fromhex(vector["report"]))
    if "says" in vector:
        assert isinstance(event, Fault)
        assert vector["says"] in event.reason
        assert event.kind == vector["kind"]
        return
    assert isinstance(event, Frame)
    assert event.step is not None
    unit = LengthUnit(vector["unit"]) if vector["unit"] else None
    assert event.unit is unit
    if vector.get("rounded"):
        half = Decimal(1).scaleb(int(event.value.as_tuple().exponent)) / 2
        assert abs(event.value - Decimal(vector["value"])) <= half
        assert abs(event.step - Decimal(vector["step"])) <= half
        assert half < event.step / 1000
    else:
        assert (str(event.value), event.step) == (vector["value"], Decimal(vector["step"]))


def test_two_inches_are_50_8_mm() -> None:
    (event,) = fields_of(next(v for v in FIELDS if v["id"] == "G4"))
    assert isinstance(event, Frame)
    assert event.unit is not None
    assert to_mm(event.value, event.unit) == 50.8  # G4, recomputed: 2 * 25.4


def test_the_mouse_of_the_standard_has_400_counts_an_inch() -> None:
    (field,) = parse_descriptor(bytes.fromhex(DATA["mouse"]["descriptor"])).fields
    scale = scale_of(field.limits, None)
    assert 1 / scale.step == DATA["mouse"]["counts_per_inch"]
    assert (scale.value(127), scale.digital_step()) == (Decimal("0.3175"), Decimal("0.0025"))


@pytest.mark.parametrize(
    ("fmt", "value"),
    [
        (HidFieldFormat(usage=0xFF000010), "12.34"),
        (HidFieldFormat(usage=0xFF000011), "-12.34"),
        (HidFieldFormat(bit_offset=24), "-12.34"),
        (HidFieldFormat(report_id=1, bit_offset=8, bit_size=16), "12.34"),
        (HidFieldFormat(usage=0xFF000012, unit_default=LengthUnit.MM), "7"),
        (HidFieldFormat(usage=0xFF000011, step=Decimal("0.005")), "-6.170"),
        (HidFieldFormat(bit_offset=8, bit_size=12, step=Decimal("0.1")), "123.4"),
        (HidFieldFormat(bit_offset=40, bit_size=4, step=Decimal(1), signed=True), "7"),
        (HidFieldFormat(bit_offset=39, bit_size=4, step=Decimal(1), signed=True), "-1"),
        (HidFieldFormat(bit_offset=39, bit_size=4, step=Decimal(1), signed=False), "15"),
    ],
)
def test_the_format_picks_the_field(fmt: HidFieldFormat, value: str) -> None:
    assert value_of(one(fmt)) == value


@pytest.mark.parametrize(
    ("fmt", "says"),
    [
        (HidFieldFormat(), "More than one field of the gauge fits the format"),
        (HidFieldFormat(), "usage 0xff000010 bit_offset 8 bit_size 16; report_id 1 usage"),
        (HidFieldFormat(usage=0xFF000099), "No field of the gauge fits the format"),
        (HidFieldFormat(usage=0xFF000010, report_id=2), "No field"),
        (HidFieldFormat(bit_offset=9), "No field"),
        (HidFieldFormat(bit_offset=8, bit_size=12), "No field"),
    ],
)
def test_a_format_that_fits_no_field_or_several_is_told_the_choice(
    fmt: HidFieldFormat, says: str
) -> None:
    event = one(fmt)
    assert isinstance(event, Fault)
    assert says in event.reason


def test_the_only_length_among_other_fields_needs_no_choice() -> None:
    # TWO_LENGTHS with one value of 16 bits in place of two.
    descriptor = TWO_LENGTHS.replace(b"\x75\x10\x95\x02", b"\x75\x10\x95\x01")
    assert value_of(one(HidFieldFormat(), "01 01 d2 04 07", descriptor)) == "12.34"


@pytest.mark.parametrize("name", ["mouse", "boot_keyboard"])
def test_relative_and_array_fields_are_no_lengths(name: str) -> None:
    fmt = HidFieldFormat(bit_offset=0 if name == "mouse" else 16)
    event = one(fmt, "01", bytes.fromhex(DATA[name]["descriptor"]))
    assert isinstance(event, Fault)
    assert "No field" in event.reason


@pytest.mark.parametrize(("bit_offset", "found"), [(8 * 254, True), (8 * 255, False)])
def test_what_no_report_can_carry_is_no_field(bit_offset: int, found: bool) -> None:
    descriptor = bytes.fromhex("06 00 ff 09 01 15 00 26 ff 00 75 08 96 2c 01 81 02")
    event = one(HidFieldFormat(bit_offset=bit_offset), "05" * 255, descriptor)
    assert isinstance(event, Frame) is found
    assert found or "No field" in reason_of(event)


def test_without_a_descriptor_the_format_must_say_all() -> None:
    plain = HidFieldFormat(bit_offset=0, bit_size=16, step=Decimal("0.01"))
    assert value_of(one(plain, "d2 04", b"")) == "12.34"
    with_id = HidFieldFormat(report_id=3, bit_offset=0, bit_size=16, step=Decimal("0.01"))
    assert value_of(one(with_id, "03 d2 04", b"")) == "12.34"
    event = one(HidFieldFormat(usage=0xFF000010), "d2 04", b"")
    assert isinstance(event, Fault)
    assert "it declares nothing" in event.reason


def test_other_reports_of_the_gauge_are_no_events() -> None:
    decoder = HidFieldDecoder(HidFieldFormat(usage=0xFF000010))
    assert play(decoder, [stream(["02 64"], TWO_LENGTHS)]) == []


def test_a_short_report_is_a_fault_and_a_padded_one_is_read() -> None:
    fmt = HidFieldFormat(usage=0xFF000010)
    event = one(fmt, "01 00 d2")
    assert isinstance(event, Fault)
    assert event.reason == "the report ends at bit 16, the field at 24"
    assert value_of(one(fmt, "01 00 d2 04")) == "12.34"
    assert value_of(one(fmt, REPORT + "00" * 57)) == "12.34"


def test_a_descriptor_that_cannot_be_read_makes_every_report_a_fault() -> None:
    decoder = HidFieldDecoder(HidFieldFormat())
    events = play(decoder, [stream([REPORT, REPORT], b"\x05")])
    reasons = [event.reason for event in events if isinstance(event, Fault)]
    assert [("cannot be read" in reason) for reason in reasons] == [True, True]


def test_a_later_descriptor_takes_the_place_of_the_first_and_reset_forgets_it() -> None:
    g1, g4 = (next(v for v in FIELDS if v["id"] == name) for name in ("G1", "G4"))
    decoder = HidFieldDecoder(HidFieldFormat())
    wires = [stream([v["report"]], bytes.fromhex(v["descriptor"])) for v in (g1, g4)]
    assert [value_of(event) for event in play(decoder, wires)] == ["100.00", "2.0000"]
    decoder.feed(b"\x08\x01")
    decoder.reset()
    assert decoder.flush() == []
    assert isinstance(decoder.feed(stream([g4["report"]]))[0], Fault)


def test_a_report_cut_off_by_silence_is_incomplete() -> None:
    (event,) = play(HidFieldDecoder(HidFieldFormat()), [stream([], TWO_LENGTHS) + b"\x07\x01"])
    assert isinstance(event, Fault)
    assert (event.kind, event.raw) == (FaultKind.INCOMPLETE, b"\x07\x01")


@pytest.mark.parametrize(
    ("limits", "says"),
    [
        (FieldLimits(), "its limits leave no range"),
        (
            FieldLimits(logical_min=5, logical_max=5, physical_max=1),
            "leave no range, logical 5 to 5",
        ),
        (FieldLimits(logical_min=1, logical_max=0), "leave no range"),
        (FieldLimits(logical_max=9, physical_min=4, physical_max=4), "leave no range"),
        (FieldLimits(logical_max=9, unit_exponent=8), "its unit exponent is 8"),
        (FieldLimits(logical_max=9, unit_exponent=-(2**31)), "its unit exponent is"),
        (FieldLimits(logical_max=9, unit=0xF011), "its unit code is 0xf011"),  # cm/s
        (FieldLimits(logical_max=9, unit=0x12), "its unit code is 0x12"),  # radian
    ],
)
def test_limits_that_define_no_length_are_refused(limits: FieldLimits, says: str) -> None:
    with pytest.raises(DeviceError) as caught:
        scale_of(limits, LengthUnit.MM)
    assert says in str(caught.value)
    assert "step" in caught.value.hint


def test_a_falling_scale_has_a_positive_step() -> None:
    scale = scale_of(
        FieldLimits(logical_max=100, physical_min=200, physical_max=100), LengthUnit.MM
    )
    assert (scale.value(25), scale.digital_step()) == (175, 1)


LIMIT = st.integers(-(2**31), 2**31 - 1)


@given(
    logical=st.tuples(LIMIT, LIMIT).map(sorted),
    physical=st.tuples(LIMIT, LIMIT),
    exponent=st.integers(-8, 7),
    unit=st.sampled_from([CENTIMETRE, INCH]),
    part=st.floats(0, 1),
)
def test_any_count_is_the_formula_exactly_or_to_a_thousandth_of_a_count(
    logical: list[int], physical: tuple[int, int], exponent: int, unit: int, part: float
) -> None:
    low, high = logical
    if low == high or physical[0] == physical[1]:
        return
    count = low + int(part * (high - low))
    limits = FieldLimits(
        logical_min=low,
        logical_max=high,
        physical_min=physical[0],
        physical_max=physical[1],
        unit=unit,
        unit_exponent=exponent,
    )
    scale = scale_of(limits, None)
    # HID 1.11, 6.2.2.7, written as there.
    resolution = Fraction(high - low) / ((physical[1] - physical[0]) * Fraction(10) ** exponent)
    length = (count - low) / resolution + physical[0] * Fraction(10) ** exponent
    wanted = length * (10 if unit == CENTIMETRE else 1)
    step = 1 / resolution * (10 if unit == CENTIMETRE else 1)
    off = abs(Fraction(scale.value(count)) - wanted)
    exact = all(_is_finite(each) for each in (step, Fraction(wanted)))
    assert off == 0 if exact else off <= abs(step) / 1000
    assert abs(Fraction(scale.digital_step()) - abs(step)) <= abs(step) / 1000


def _is_finite(value: Fraction) -> bool:
    return pow(10, 200) % value.denominator == 0
