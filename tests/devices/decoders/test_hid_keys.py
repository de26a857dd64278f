"""Key presses become lines, and lines readings; what cannot be read is never a number."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hid_bench import (
    BITMAP,
    BOOT_DESCRIPTOR,
    DATA,
    KEYS,
    down,
    keys_decoder,
    play,
    stream,
    text_input,
)

from gaugelink.devices.decoders.hid_descriptor import parse_descriptor
from gaugelink.devices.decoders.hid_keys import (
    BOOT_KEYBOARD,
    MAX_LINE_RAW_BYTES,
    HidKeysDecoder,
    KeyboardLayout,
    KeyLineEnd,
    character,
)
from gaugelink.model import Fault, FaultKind, Frame, Ident, WireEvent

ENTER, TAB, KEYPAD_ENTER = 0x28, 0x2B, 0x58
ONE, TWO, FIVE, POINT, COMMA = 0x1E, 0x1F, 0x22, 0x37, 0x36
UP = down()

every_vector = pytest.mark.parametrize("vector", KEYS, ids=lambda v: v["id"])


def bitmap(*keys: int, modifiers: int = 0) -> bytes:
    return bytes([1, modifiers]) + sum(1 << key - 4 for key in keys).to_bytes(12, "little")


def typed(*keys: int) -> list[bytes]:
    return [report for key in keys for report in (down(key), UP)]


def reason_of(event: WireEvent) -> str:
    assert isinstance(event, Fault)
    return event.reason


def check(vector: dict[str, Any], events: list[WireEvent]) -> None:
    (event,) = events
    if "text" in vector:
        assert isinstance(event, Ident)
        assert event.text == vector["text"]
    else:
        assert vector["says"] in reason_of(event)


@every_vector
@pytest.mark.parametrize("descriptor", [b"", BOOT_DESCRIPTOR], ids=["boot", "described"])
def test_a_vector_gives_its_line(vector: dict[str, Any], descriptor: bytes) -> None:
    decoder = keys_decoder(layout=KeyboardLayout(vector["layout"]))
    check(vector, play(decoder, [stream(vector["reports"], descriptor)]))


@every_vector
def test_a_vector_split_anywhere_gives_the_same(vector: dict[str, Any]) -> None:
    wire = stream(vector["reports"], BOOT_DESCRIPTOR)
    layout = KeyboardLayout(vector["layout"])
    whole = play(keys_decoder(layout=layout), [wire])
    assert play(keys_decoder(layout=layout), [bytes([b]) for b in wire]) == whole
    for cut in range(len(wire)):
        assert play(keys_decoder(layout=layout), [wire[:cut], wire[cut:]]) == whole


def test_the_keys_spell_a_reading_with_the_reports_as_its_raw_bytes() -> None:
    reports = KEYS[0]["reports"]
    (frame,) = play(keys_decoder(text_input()), [stream(reports)])
    assert isinstance(frame, Frame)
    assert (frame.value, str(frame.value), frame.unit) == (Decimal("-1.5"), "-1.50", None)
    assert frame.raw == stream(reports[:-1]), "from the first key to Enter going down"


def test_reports_between_lines_belong_to_none() -> None:
    decoder = keys_decoder()
    decoder.feed(stream([*typed(ONE, ENTER), *[down(shift=True), UP] * 2000]))
    (line,) = decoder.feed(stream(typed(TWO, ENTER)))
    assert line.raw == stream([down(TWO), UP, down(ENTER)])


def test_the_boot_layout_is_that_of_its_descriptor() -> None:
    parsed = parse_descriptor(BOOT_DESCRIPTOR).inputs()
    places = [(f.bit_offset, f.bit_size, f.count, f.is_variable) for f in parsed]
    assert places == [
        (f.bit_offset, f.bit_size, f.count, f.is_variable) for f in BOOT_KEYBOARD.fields
    ]


def test_a_bitmap_keyboard_with_report_ids_is_read_by_its_descriptor() -> None:
    none, volume = bitmap(), bytes([2, 1])
    reports = [bitmap(ONE), none, volume, bitmap(POINT), none, bitmap(FIVE), none, bitmap(ENTER)]
    (frame,) = play(keys_decoder(text_input()), [stream(reports, BITMAP)])
    assert isinstance(frame, Frame)
    assert str(frame.value) == "1.5"
    (held,) = play(keys_decoder(), [stream([bitmap(ONE), bitmap(ONE), bitmap(ENTER)], BITMAP)])
    assert isinstance(held, Ident)
    assert held.text == "1"
    (plus,) = play(keys_decoder(), [stream([bitmap(0x2E, modifiers=0x20), bitmap(ENTER)], BITMAP)])
    assert isinstance(plus, Ident)
    assert plus.text == "+", "right shift"


def test_two_separators_are_refused_by_the_line_decoder() -> None:
    reports = typed(ONE, POINT, TWO, COMMA, FIVE, ENTER)
    (fault,) = play(keys_decoder(text_input()), [stream(reports)])
    assert "'1.2,5' is not a line of this format" in reason_of(fault)


@pytest.mark.parametrize("separator", [POINT, COMMA])
def test_either_separator_is_a_decimal_mark(separator: int) -> None:
    (frame,) = play(keys_decoder(text_input()), [stream(typed(ONE, separator, FIVE, ENTER))])
    assert isinstance(frame, Frame)
    assert frame.value == Decimal("1.5")


@pytest.mark.parametrize("end", [ENTER, TAB, KEYPAD_ENTER])
def test_each_end_key_ends_a_line_where_the_format_has_it(end: int) -> None:
    wire = stream(typed(ONE, end, TWO, end))
    assert [e.text for e in play(keys_decoder(), [wire]) if isinstance(e, Ident)] == ["1", "2"]
    others = frozenset(KeyLineEnd) - {
        {ENTER: KeyLineEnd.ENTER, TAB: KeyLineEnd.TAB}.get(end, KeyLineEnd.KEYPAD_ENTER)
    }
    (fault,) = play(keys_decoder(line_ends=others), [wire])
    assert f"key {end:#04x}" in reason_of(fault)


def test_silence_leaves_a_line_incomplete_unless_the_format_ends_on_it() -> None:
    wire = stream(typed(ONE, POINT, FIVE))
    (fault,) = play(keys_decoder(text_input()), [wire])
    assert isinstance(fault, Fault)
    assert (fault.kind, fault.raw) == (FaultKind.INCOMPLETE, wire)
    (frame,) = play(keys_decoder(text_input(), ends_on_silence=True), [wire])
    assert isinstance(frame, Frame)
    assert str(frame.value) == "1.5"


def test_enter_alone_and_silence_alone_are_no_events() -> None:
    decoder = keys_decoder(text_input())
    assert play(decoder, [stream([*typed(ENTER, TAB), UP])]) == []
    assert decoder.flush() == []


def test_keys_at_once_count_in_array_order_where_the_format_says_so() -> None:
    wire = stream([down(TWO, ONE), UP, down(ENTER)])
    assert "2 keys went down at once" in reason_of(play(keys_decoder(), [wire])[0])
    (line,) = play(keys_decoder(in_array_order=True), [wire])
    assert isinstance(line, Ident)
    assert line.text == "21"


def test_an_end_key_among_others_at_once_spoils_both_lines() -> None:
    wire = stream([down(ENTER, ONE), UP, *typed(TWO, ENTER)])
    assert ["at once" in reason_of(event) for event in play(keys_decoder(), [wire])] == [True, True]


def test_a_key_held_over_the_end_of_a_line_is_not_typed_again() -> None:
    wire = stream([down(ONE), down(ONE, ENTER), down(ONE), down(ONE, ENTER), UP])
    assert [type(event) for event in play(keys_decoder(), [wire])] == [Ident]


def test_after_a_spoilt_line_the_next_one_counts() -> None:
    wire = stream(typed(ONE, 0x3E, 0x3F, ENTER, TWO, ENTER))
    fault, line = play(keys_decoder(), [wire])
    assert reason_of(fault).startswith("key 0x3e without shift"), "the first reason"
    assert "the rest of the line was '1'" in reason_of(fault)
    assert isinstance(line, Ident)
    assert line.text == "2"


def test_a_report_that_ends_before_its_keys_spoils_the_line() -> None:
    wire = stream([down(ONE), UP, bytes([0, 0]), *typed(TWO, ENTER)])
    (fault,) = play(keys_decoder(text_input()), [wire])
    assert "a report ends before its keys do" in reason_of(fault)
    (padded,) = play(keys_decoder(), [stream([down(ONE) + bytes(8), down(ENTER) + bytes(8)])])
    assert isinstance(padded, Ident)
    assert padded.text == "1", "a longer report is padded, as Windows hands it on"


@pytest.mark.parametrize(
    ("descriptor", "says"),
    [
        (bytes.fromhex(DATA["mouse"]["descriptor"]), "no keys (usage page 0x07)"),
        (b"\x05", "its last item is cut off (byte 0)"),
    ],
)
def test_a_device_without_keys_gives_no_lines(descriptor: bytes, says: str) -> None:
    events = play(keys_decoder(), [stream(typed(ONE, ENTER), descriptor)])
    assert len(events) == 4, "one for each report"
    assert all(says in reason_of(event) for event in events)


def test_a_new_descriptor_ends_what_was_typed_before() -> None:
    wire = stream(typed(ONE)) + stream(typed(TWO, ENTER), BOOT_DESCRIPTOR)
    fault, line = play(keys_decoder(), [wire])
    assert "stopped before its end: b'1'" in reason_of(fault)
    assert isinstance(line, Ident)
    assert line.text == "2"


def test_reset_forgets_line_keys_and_descriptor() -> None:
    decoder = keys_decoder()
    decoder.feed(stream([bitmap(ONE)], BITMAP) + b"\x08\0")
    decoder.reset()
    (line,) = play(decoder, [stream([down(ONE), down(ENTER)])])
    assert isinstance(line, Ident)
    assert line.text == "1"


def test_a_key_held_for_hours_costs_no_memory_and_no_end_is_one_fault() -> None:
    decoder = keys_decoder()
    assert decoder.feed(stream([down(ONE)] * 5000)) == []
    assert len(decoder._raw) == 9
    (fault,) = decoder.feed(stream([down(TWO), UP] * 5000))
    assert isinstance(fault, Fault)
    assert (fault.kind, len(fault.raw)) == (FaultKind.OVERLONG, MAX_LINE_RAW_BYTES)
    assert (decoder._text, bytes(decoder._raw)) == ("", b"")
    tail = [*typed(ONE), down(TWO, FIVE), bytes([0, 0]), *typed(ENTER)]
    assert decoder.feed(stream(tail)) == [], "the tail of an overlong line"
    assert [type(e) for e in decoder.feed(stream(typed(ONE, ENTER)))] == [Ident]


def test_a_record_cut_off_by_silence_is_reported() -> None:
    (fault,) = play(HidKeysDecoder(keys_decoder()._format), [b"\x08\x00"])
    assert (fault.raw, reason_of(fault)) == (b"\x08\x00", "the report stopped before its end")


def test_every_layout_can_type_a_number_with_its_unit() -> None:
    for layout in KeyboardLayout:
        can = {character(u, shift=s, layout=layout) for u in range(256) for s in (False, True)}
        assert set("0123456789+-., minchINCHM") - can == set(), layout


@pytest.mark.parametrize(
    ("layout", "usage", "plain", "shifted"),
    [
        # US letters and top row: HID Usage Tables, page 0x07; all others from memory.
        ("us", 0x1D, "z", "Z"),
        ("us", 0x2D, "-", "_"),
        ("us", 0x34, "'", '"'),
        ("de", 0x1C, "z", "Z"),
        ("de", 0x1D, "y", "Y"),
        ("de", 0x38, "-", "_"),
        ("de", 0x30, "+", "*"),
        ("de", 0x1F, "2", '"'),
        ("de", 0x2D, "", "?"),
        ("fr", 0x04, "q", "Q"),
        ("fr", 0x14, "a", "A"),
        ("fr", 0x1A, "z", "Z"),
        ("fr", 0x1D, "w", "W"),
        ("fr", 0x33, "m", "M"),
        ("fr", 0x10, ",", "?"),
        ("fr", 0x23, "-", "6"),
        ("fr", 0x36, ";", "."),
        ("fr", 0x1E, "", "1"),
        ("us", 0x85, ",", ""),
        ("de", 0x63, ".", ""),
        ("fr", 0x62, "0", ""),
        ("fr", 0x2C, " ", " "),
        ("us", 0x2A, "", ""),
    ],
)
def test_a_position_types_what_its_layout_says(
    layout: str, usage: int, plain: str, shifted: str
) -> None:
    kind = KeyboardLayout(layout)
    assert character(usage, shift=False, layout=kind) == plain
    assert character(usage, shift=True, layout=kind) == shifted
