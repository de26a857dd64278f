"""Report descriptors become fields; what breaks a rule of HID 1.11 is one sentence."""

from __future__ import annotations

import pytest
from hid_bench import BOOT_DESCRIPTOR, DATA
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.devices.decoders.hid_descriptor import (
    MAX_REPORT_BITS,
    FieldKind,
    FieldLimits,
    HidField,
    ReportDescriptor,
    UsageRange,
    parse_descriptor,
    short_items,
)
from gaugelink.errors import DeviceError

USAGE = "06 00 ff 09 01 a1 01"
BYTE = "75 08 95 01 81 02"


def parse(text: str) -> ReportDescriptor:
    return parse_descriptor(bytes.fromhex(text))


def only(text: str) -> HidField:
    (field,) = parse(text).fields
    return field


def places(descriptor: ReportDescriptor) -> list[tuple[FieldKind, int, int, int]]:
    return [(f.kind, f.report_id, f.bit_offset, f.bit_size * f.count) for f in descriptor.fields]


def test_the_boot_keyboard_has_its_five_fields() -> None:
    # HID 1.11, appendix B.1: modifiers, a reserved byte, LEDs and their padding, six keys.
    descriptor = parse_descriptor(BOOT_DESCRIPTOR)
    inward, outward = FieldKind.INPUT, FieldKind.OUTPUT
    assert places(descriptor) == [
        (inward, 0, 0, 8),
        (inward, 0, 8, 8),
        (outward, 0, 0, 5),
        (outward, 0, 5, 3),
        (inward, 0, 16, 48),
    ]
    assert not descriptor.has_report_ids
    assert {field.application for field in descriptor.fields} == {0x0001_0006}
    modifiers, keys = descriptor.inputs()
    assert (modifiers.is_variable, keys.is_variable) == (True, False)
    assert list(modifiers.element_usages()) == list(range(0x0007_00E0, 0x0007_00E8))
    assert keys.usages == (UsageRange(first=0x0007_0000, last=0x0007_0065),)
    assert [keys.usage_on(value) for value in (0, 4, 0x65, 0x66)] == [
        0x0007_0000,
        0x0007_0004,
        0x0007_0065,
        0,
    ]


def test_the_mouse_of_the_standard_has_its_limits() -> None:
    field = only(DATA["mouse"]["descriptor"])
    assert field.is_relative
    assert field.limits == FieldLimits(
        logical_min=-127,
        logical_max=127,
        physical_min=-3175,
        physical_max=3175,
        unit=0x13,
        unit_exponent=-4,
    )


@pytest.mark.parametrize("nibble", range(16))
def test_the_unit_exponent_is_a_nibble_in_twos_complement(nibble: int) -> None:
    field = only(f"{USAGE} 55 {nibble:02x} {BYTE} c0")
    assert field.limits.unit_exponent == DATA["exponents"]["nibbles"][nibble]


@pytest.mark.parametrize(
    ("item", "exponent"), [("55 fd", -3), ("56 fd ff", -3), ("55 7f", 127), ("54", 0)]
)
def test_an_exponent_with_bits_above_the_nibble_is_plainly_signed(item: str, exponent: int) -> None:
    assert only(f"{USAGE} {item} {BYTE} c0").limits.unit_exponent == exponent


@pytest.mark.parametrize(
    ("items", "low", "high"),
    [
        ("15 81 25 7f", -127, 127),
        ("16 f0 d8 26 10 27", -10000, 10000),
        ("17 00 00 00 80 27 ff ff ff 7f", -(2**31), 2**31 - 1),
        ("15 00 25 ff", 0, 255),
        ("14 26 ff ff", 0, 65535),
        ("15 ff 25 fe", -1, -2),
    ],
)
def test_limits_are_signed_by_the_size_of_their_item(items: str, low: int, high: int) -> None:
    limits = only(f"{USAGE} {items} {BYTE} c0").limits
    assert (limits.logical_min, limits.logical_max) == (low, high)


def test_reports_with_ids_are_counted_one_by_one_and_each_way() -> None:
    descriptor = parse(f"{USAGE} 85 01 {BYTE} 91 02 85 02 {BYTE} b1 02 85 01 {BYTE} c0")
    assert descriptor.has_report_ids
    assert places(descriptor) == [
        (FieldKind.INPUT, 1, 0, 8),
        (FieldKind.OUTPUT, 1, 0, 8),
        (FieldKind.INPUT, 2, 0, 8),
        (FieldKind.FEATURE, 2, 0, 8),
        (FieldKind.INPUT, 1, 8, 8),
    ]
    body = descriptor.body(b"\x01\x34\x92")
    assert (body.report_id, body.n_bits) == (1, 16)
    assert (body.value(4, 8), body.value(8, 8, signed=True)) == (0x23, -110)


def test_pop_brings_back_what_push_kept() -> None:
    fields = parse(f"{USAGE} 75 08 95 01 15 05 a4 75 10 15 07 81 02 b4 81 02 c0").fields
    assert [(f.bit_size, f.limits.logical_min) for f in fields] == [(16, 7), (8, 5)]


def test_usages_are_given_out_in_order_and_the_last_one_stays() -> None:
    field = only(f"{USAGE} 09 05 19 10 29 11 0b 30 00 01 00 75 08 95 06 81 02 c0")
    assert [f"{usage:x}" for usage in field.element_usages()] == [
        *("ff000005", "ff000010", "ff000011", "10030", "10030", "10030")
    ]
    assert list(only(f"{USAGE} {BYTE} c0").element_usages()) == [0]


def test_a_short_usage_takes_the_page_that_holds_at_the_main_item() -> None:
    assert list(only(f"{USAGE} 09 30 05 01 {BYTE} c0").element_usages()) == [0x0001_0030]


def test_local_items_hold_for_one_main_item() -> None:
    first, second = parse(f"{USAGE} 09 30 {BYTE} 81 02 c0").fields
    assert (len(first.usages), len(second.usages)) == (1, 0)


def test_the_outermost_collection_is_the_application() -> None:
    assert only(f"{USAGE} 09 02 a1 00 09 03 {BYTE} c0 c0").application == 0xFF000001
    assert only(BYTE).application == 0


def test_padding_strings_long_items_and_reserved_items_are_stepped_over() -> None:
    extras = "79 03 fe 02 a0 81 02 fc 0c"
    descriptor = parse(f"{USAGE} {extras} 75 08 95 01 81 03 81 02 95 00 81 02 c0")
    assert [field.bit_offset for field in descriptor.inputs()] == [8]
    assert len(descriptor.fields) == 2


def test_an_array_counts_its_usages_from_the_logical_minimum() -> None:
    field = only("05 07 15 01 25 03 19 04 29 ff 75 08 95 01 81 00")
    assert [field.usage_on(value) for value in (0, 1, 3, 4)] == [0, 0x0007_0004, 0x0007_0006, 0]


def test_a_long_item_is_no_item() -> None:
    items = list(short_items(bytes.fromhex("fe 02 a0 81 02 75 08")))
    assert [(item.tag, item.data, item.position) for item in items] == [(7, b"\x08", 5)]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("05", "its last item is cut off (byte 0)"),
        (f"{USAGE} 27 00 00 00", "its last item is cut off (byte 7)"),
        ("fe", "its last item is cut off"),
        ("fe 05 00 00", "its last item is cut off"),
        (USAGE, "a collection is not ended (byte 7)"),
        ("c0", "an End Collection has no beginning (byte 0)"),
        ("b4", "a Pop has no Push"),
        ("85 00", "0 is not a report ID"),
        ("86 00 01", "256 is not a report ID"),
        (f"{USAGE} {BYTE} 85 01 {BYTE} c0", "some reports have an ID and some have none"),
        (f"{USAGE} 29 05 {BYTE} c0", "a range of usages ends before it begins"),
        (f"{USAGE} 19 06 29 05 {BYTE} c0", "a range of usages ends before it begins"),
        (f"{USAGE} a9 01 09 05 a9 00 {BYTE} c0", "it names alternative usages"),
        (f"{USAGE} 77 ff ff ff ff 97 ff ff ff ff 81 02 c0", "a report is too long for any host"),
        (f"{USAGE} 75 08 96 00 10 81 02 75 01 95 01 81 02 c0", "a report is too long"),
    ],
)
def test_what_breaks_a_rule_is_one_sentence_with_its_place(text: str, says: str) -> None:
    with pytest.raises(DeviceError) as caught:
        parse(text)
    assert says in str(caught.value)
    assert caught.value.hint


PIECES = [
    bytes.fromhex(p) for p in (USAGE, BYTE, "c0", "a4", "b4", "85 01", "19 01 29 05", "81 00")
]


@given(
    st.binary(max_size=300)
    | st.lists(st.sampled_from(PIECES) | st.binary(max_size=3), max_size=40).map(b"".join)
)
def test_any_bytes_are_fields_within_bounds_or_the_one_error(data: bytes) -> None:
    try:
        descriptor = parse_descriptor(data)
    except DeviceError:
        return
    assert len(descriptor.fields) <= len(data)
    for field in descriptor.fields:
        assert 0 <= field.bit_offset < field.end_bit <= MAX_REPORT_BITS
        assert len(list(field.element_usages())) == field.count
        assert (field.report_id > 0) is descriptor.has_report_ids


@given(st.binary(min_size=1, max_size=64), st.integers(0, 500), st.integers(1, 64))
def test_bits_are_taken_as_if_written_out(report: bytes, offset: int, size: int) -> None:
    body = ReportDescriptor(fields=()).body(report)
    written = "".join(f"{byte:08b}"[::-1] for byte in report).ljust(600, "0")
    bits = written[offset : offset + size][::-1]
    assert body.value(offset, size) == int(bits, 2)
    minus = 2**size if bits[0] == "1" else 0
    assert body.value(offset, size, signed=True) == int(bits, 2) - minus
