"""Which keys went down: one keyboard report compared with the one before it.

A key counts when it is in this report and was not in the previous one, so a key that
is held counts once, and the same digit twice needs a report without it in between.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from gaugelink.devices.decoders.hid_layouts import MODIFIERS
from gaugelink.devices.decoders.hid_report import (
    FieldKind,
    HidField,
    Limits,
    ReportBody,
    ReportDescriptor,
    UsageRange,
)

KEYBOARD_PAGE = 0x07 << 16
# ErrorRollOver, POSTFail, ErrorUndefined: the keyboard cannot tell which keys are down.
_ERRORS = frozenset({0x01, 0x02, 0x03})


@dataclass(frozen=True, slots=True, kw_only=True)
class Presses:
    """Keys that went down with one report, in its order, and the modifiers held with them."""

    keys: tuple[int, ...]
    modifiers: frozenset[int]


class KeyState:
    """Follows the keys of one device, each of its reports by itself."""

    def __init__(self, fields: Iterable[HidField]) -> None:
        self._fields: dict[int, list[HidField]] = {}
        for field in fields:
            self._fields.setdefault(field.report_id, []).append(field)
        self._down: dict[int, frozenset[int]] = {}

    def is_cut(self, body: ReportBody) -> bool:
        """Tell whether a report ends before its keys do."""
        fields = self._fields.get(body.report_id, [])
        return any(field.end_bit > body.n_bits for field in fields)

    def take(self, body: ReportBody) -> Presses:
        """Note the keys of a report; return those that went down with it.

        A report that says it cannot tell changes nothing.
        """
        fields = self._fields.get(body.report_id, [])
        now = [usage for field in fields for usage in _keys_on(field, body)]
        if not fields or _ERRORS.intersection(now):
            return Presses(keys=(), modifiers=frozenset())
        before = self._down.get(body.report_id, frozenset())
        self._down[body.report_id] = frozenset(now)
        held = frozenset().union(*self._down.values())
        new = dict.fromkeys(key for key in now if key not in before and key not in MODIFIERS)
        return Presses(keys=tuple(new), modifiers=held.intersection(MODIFIERS))


def key_fields(descriptor: ReportDescriptor) -> tuple[HidField, ...]:
    """Return the input fields that have usages of the keyboard page."""
    return tuple(
        field
        for field in descriptor.inputs()
        if any(KEYBOARD_PAGE <= each.last < KEYBOARD_PAGE + 0x10000 for each in field.usages)
    )


def _keys_on(field: HidField, body: ReportBody) -> Iterator[int]:
    """Yield the usages, on the keyboard page, of the keys that are down in a field."""
    values = (
        body.value(field.bit_offset + i * field.bit_size, field.bit_size)
        for i in range(field.count)
    )
    if field.is_variable:
        pairs = zip(values, field.element_usages(), strict=True)
        usages = (usage for value, usage in pairs if value)
    else:
        usages = (field.usage_on(value) for value in values)
    # The first usage of the page is "no key", which is what an empty place holds.
    return (u - KEYBOARD_PAGE for u in usages if 0 < u - KEYBOARD_PAGE < 0x10000)


def _boot_field(bit_offset: int, bit_size: int, count: int, first: int, last: int) -> HidField:
    return HidField(
        kind=FieldKind.INPUT,
        report_id=0,
        bit_offset=bit_offset,
        bit_size=bit_size,
        count=count,
        usages=(UsageRange(first=KEYBOARD_PAGE + first, last=KEYBOARD_PAGE + last),),
        limits=Limits(logical_max=last - first),
        is_variable=bit_size == 1,
    )


# HID 1.11, appendix B.1: eight modifier bits, a byte that is reserved, six keys.
BOOT_KEYBOARD = ReportDescriptor(
    fields=(_boot_field(0, 1, 8, 0xE0, 0xE7), _boot_field(16, 8, 6, 0x00, 0xFF))
)
