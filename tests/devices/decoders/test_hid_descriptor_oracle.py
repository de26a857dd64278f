"""The places of fields agree with those that another parser finds."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from types import ModuleType

import pytest
from hid_bench import BITMAP, BOOT_DESCRIPTOR, DATA, FIELDS, TWO_LENGTHS
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.devices.decoders.hid_descriptor import HidField, parse_descriptor

hid_parser: ModuleType = pytest.importorskip(
    "hid_parser", reason="The other parser is not installed: pip install hid-parser."
)

# G9 declares a maximum of -1 that hosts take for 255; the other parser leaves it at -1.
DESCRIPTORS = [
    BOOT_DESCRIPTOR,
    BITMAP,
    TWO_LENGTHS,
    bytes.fromhex(DATA["mouse"]["descriptor"]),
    *(bytes.fromhex(vector["descriptor"]) for vector in FIELDS if vector["id"] != "G9-unsigned"),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One value, or one array, of an input report."""

    report_id: int
    bit_offset: int
    bit_size: int
    logical_min: int
    logical_max: int
    usage: int  # of a value; 0 for an array


def ours(descriptor: bytes) -> list[Place]:
    return [
        _place(field, index, usage)
        for field in parse_descriptor(descriptor).inputs()
        for index, usage in enumerate(field.element_usages() if field.is_variable else [0])
    ]


def _place(field: HidField, index: int, usage: int) -> Place:
    return Place(
        report_id=field.report_id,
        bit_offset=field.bit_offset + index * field.bit_size,
        bit_size=field.bit_size,
        logical_min=field.limits.logical_min,
        logical_max=field.limits.logical_max,
        usage=usage,
    )


def theirs(descriptor: bytes) -> list[Place]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it says that it does not support units
        parsed = hid_parser.ReportDescriptor(list(descriptor))
    return [
        Place(
            report_id=report_id or 0,
            bit_offset=int(item.offset),
            bit_size=int(item.size),
            logical_min=item.logical_min,
            logical_max=item.logical_max,
            usage=_usage(item),
        )
        for report_id in parsed.input_report_ids
        for item in parsed.get_input_items(report_id)
        if not isinstance(item, hid_parser.PaddingItem)
    ]


def _usage(item: object) -> int:
    usage = getattr(item, "usage", None)
    return 0 if usage is None else int(usage.page) << 16 | int(usage.usage)


@pytest.mark.parametrize("descriptor", DESCRIPTORS, ids=lambda d: d.hex()[:16])
def test_both_parsers_find_the_same_places(descriptor: bytes) -> None:
    found = ours(descriptor)
    assert found
    assert found == theirs(descriptor)


FIELD = st.tuples(st.integers(1, 3), st.integers(1, 32), st.integers(1, 5), st.integers(1, 2**15))


@given(st.lists(FIELD, min_size=1, max_size=8))
def test_both_parsers_agree_on_made_up_descriptors(fields: list[tuple[int, int, int, int]]) -> None:
    descriptor = bytes.fromhex("06 00 ff 09 01 a1 01")
    for report_id, size, count, limit in sorted(fields):
        usages = b"".join(bytes([0x09, 0x10 + n]) for n in range(count))
        limits = b"\x16" + (-limit).to_bytes(2, "little", signed=True)
        limits += b"\x26" + (limit - 1).to_bytes(2, "little", signed=True)
        globals_ = bytes([0x85, report_id, 0x75, size, 0x95, count])
        descriptor += globals_ + limits + usages + b"\x81\x02"
    assert ours(descriptor + b"\xc0") == theirs(descriptor + b"\xc0")
