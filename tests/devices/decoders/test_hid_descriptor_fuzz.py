"""Whatever comes from a HID device, in whatever pieces: no exception and no made-up number."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from itertools import pairwise

import pytest
from hid_bench import BOOT_DESCRIPTOR, FIELDS, down, keys_decoder, play, stream, text_input
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.devices.contract import Decoder
from gaugelink.devices.decoders.hid_descriptor import (
    Descriptor,
    Report,
    ReportStream,
    frame_descriptor,
    frame_report,
)
from gaugelink.devices.decoders.hid_field import HidFieldDecoder, HidFieldFormat
from gaugelink.devices.decoders.hid_keys import (
    MAX_LINE_RAW_BYTES,
    HidKeysDecoder,
    KeyboardLayout,
    character,
)
from gaugelink.model import Fault, Frame

pytestmark = pytest.mark.campaign

DECODERS: dict[str, Callable[[], Decoder]] = {
    "keys": lambda: keys_decoder(text_input()),
    "keys-loose": lambda: keys_decoder(text_input(), ends_on_silence=True, in_array_order=True),
    "field": lambda: HidFieldDecoder(HidFieldFormat()),
    "field-plain": lambda: HidFieldDecoder(
        HidFieldFormat(bit_offset=3, bit_size=9, step=Decimal("0.01"))
    ),
}
DESCRIPTORS = [BOOT_DESCRIPTOR, *(bytes.fromhex(v["descriptor"]) for v in FIELDS)]
KEYS_DOWN = st.lists(st.sampled_from([0x1E, 0x1F, 0x37, 0x28, 0x2D, 0x01, 0x58]), max_size=3)
RECORDS = (
    st.sampled_from(DESCRIPTORS).map(frame_descriptor)
    | st.binary(max_size=30).map(frame_descriptor)
    | KEYS_DOWN.map(lambda keys: frame_report(down(*keys)))
    | st.binary(min_size=1, max_size=20).map(frame_report)
    | st.binary(max_size=4)
)
WIRE = st.lists(RECORDS, max_size=30).map(b"".join)
CUTS = st.lists(st.integers(0, 1000), max_size=8)


def split(wire: bytes, cuts: list[int]) -> list[bytes]:
    edges = [0, *sorted(min(cut, len(wire)) for cut in cuts), len(wire)]
    return [wire[a:b] for a, b in pairwise(edges)]


@pytest.mark.parametrize("name", DECODERS)
@given(wire=WIRE, cuts=CUTS)
def test_any_bytes_in_any_split_give_the_same_events(
    name: str, wire: bytes, cuts: list[int]
) -> None:
    whole = play(DECODERS[name](), [wire])
    assert play(DECODERS[name](), split(wire, cuts)) == whole
    for event in whole:
        assert isinstance(event, Frame | Fault)
        assert event.raw


@given(records=st.lists(st.binary(min_size=1, max_size=255) | st.none(), max_size=20), cuts=CUTS)
def test_records_come_back_as_they_were_framed(
    records: list[bytes | None], cuts: list[int]
) -> None:
    wire = b"".join(
        frame_descriptor(BOOT_DESCRIPTOR) if r is None else frame_report(r) for r in records
    )
    undone = ReportStream()
    found = [record for piece in split(wire, cuts) for record in undone.feed(piece)]
    assert undone.flush() == []
    assert [r.data if isinstance(r, Report) else None for r in found] == records
    assert {r.data for r in found if isinstance(r, Descriptor)} <= {BOOT_DESCRIPTOR}
    assert b"".join(record.raw for record in found) == wire


def test_after_a_broken_record_the_next_one_is_whole() -> None:
    undone = ReportStream()
    for broken in (b"\x05\x01", b"\0", b"\0\x05", b"\0\0"):
        assert undone.feed(broken) == []
        assert [fault.raw for fault in undone.flush()] == [broken]
        assert [record.data for record in undone.feed(b"\x01\x07")] == [b"\x07"]


def test_a_report_beyond_255_bytes_is_cut_and_an_empty_one_is_nothing() -> None:
    assert frame_report(bytes(300)) == b"\xff" + bytes(255)
    assert frame_report(b"") == b""


@given(wire=WIRE)
def test_memory_stays_bounded(wire: bytes) -> None:
    decoder = keys_decoder(text_input(), in_array_order=True)
    for _ in range(20):
        decoder.feed(wire)
        assert len(decoder._raw) <= MAX_LINE_RAW_BYTES
        assert len(decoder._stream._pending) <= 3 + 0xFFFF


@given(st.integers(0, 0xFFFF))
def test_no_frame_from_a_count_outside_the_limits(raw: int) -> None:
    g3, g5 = (next(v for v in FIELDS if v["id"] == name) for name in ("G3", "G5"))
    for vector in (g3, g5):
        descriptor = bytes.fromhex(vector["descriptor"])
        wire = stream([raw.to_bytes(2, "little")], descriptor)
        (event,) = play(HidFieldDecoder(HidFieldFormat()), [wire])
        # Logical limits 0 to 4095 in both, one with a null state.
        assert isinstance(event, Frame if raw <= 4095 else Fault)


@given(
    layout=st.sampled_from(list(KeyboardLayout)),
    digits=st.from_regex(r"-?[0-9]{1,3}[.,][0-9]{1,4}", fullmatch=True),
)
def test_a_typed_number_comes_back_with_every_digit(layout: KeyboardLayout, digits: str) -> None:
    reports = [report for one in digits for report in (press(one, layout), down())]
    decoder = HidKeysDecoder(keys_decoder(text_input(), layout=layout)._format)
    (frame,) = play(decoder, [stream([*reports, down(0x28)], BOOT_DESCRIPTOR)])
    assert isinstance(frame, Frame)
    assert frame.value == Decimal(digits.replace(",", "."))


def press(wanted: str, layout: KeyboardLayout) -> bytes:
    """Return the report of the first key that types ``wanted``."""
    for shift in (False, True):
        for usage in range(4, 0x59):
            if character(usage, shift=shift, layout=layout) == wanted:
                return down(usage, shift=shift)
    raise AssertionError(f"no key types {wanted!r}")
