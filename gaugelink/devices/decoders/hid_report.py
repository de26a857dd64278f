"""What a report descriptor comes down to: where in which report which values stand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from itertools import chain, islice, repeat

from gaugelink.devices.decoders.hid_items import MainTag


class FieldKind(Enum):
    """Which way a field travels."""

    INPUT = MainTag.INPUT
    OUTPUT = MainTag.OUTPUT
    FEATURE = MainTag.FEATURE


@dataclass(frozen=True, slots=True, kw_only=True)
class UsageRange:
    """Usages ``first`` to ``last``, each with its usage page in the high 16 bits."""

    first: int
    last: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What global items say of a field's values; both physical limits 0 means none given.

    ``unit`` is the nibble code of 6.2.2.7 and ``unit_exponent`` a power of ten.
    """

    logical_min: int = 0
    logical_max: int = 0
    physical_min: int = 0
    physical_max: int = 0
    unit: int = 0
    unit_exponent: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class HidField:
    """``count`` values of ``bit_size`` bits each, side by side in a report.

    ``bit_offset`` counts from the first bit after the report ID byte, if there is one.
    The values of a variable field belong to one usage each; those of an array say
    which of its usages are on. ``application`` is the usage of the outermost
    collection around it, 0 when there is none.
    """

    kind: FieldKind
    report_id: int
    bit_offset: int
    bit_size: int
    count: int
    usages: tuple[UsageRange, ...]
    limits: Limits
    application: int = 0
    is_constant: bool = False
    is_variable: bool = True
    is_relative: bool = False
    has_null_state: bool = False

    @property
    def end_bit(self) -> int:
        """The first bit behind the field."""
        return self.bit_offset + self.bit_size * self.count

    def element_usages(self) -> Iterator[int]:
        """Yield the usage of each value; the last one counts for all that follow it."""
        named = chain.from_iterable(range(each.first, each.last + 1) for each in self.usages)
        return islice(chain(named, repeat(self.usages[-1].last if self.usages else 0)), self.count)

    def usage_on(self, value: int) -> int:
        """Return the usage that a value of an array says is on; 0 when it says none."""
        index = value - self.limits.logical_min
        if index < 0 or value > self.limits.logical_max:
            return 0
        for each in self.usages:
            size = each.last - each.first + 1
            if index < size:
                return each.first + index
            index -= size
        return 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportDescriptor:
    """All fields of a device; with ``has_report_ids`` every report begins with its ID."""

    fields: tuple[HidField, ...]
    has_report_ids: bool = False

    def inputs(self) -> tuple[HidField, ...]:
        """Return the fields that the device sends, padding left out."""
        return tuple(f for f in self.fields if f.kind is FieldKind.INPUT and not f.is_constant)

    def body(self, report: bytes) -> ReportBody:
        """Return a report without its ID byte, if it has one."""
        body = report[1:] if self.has_report_ids else report
        return ReportBody(
            report_id=report[0] if self.has_report_ids and report else 0,
            n_bits=8 * len(body),
            bits=int.from_bytes(body, "little"),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportBody:
    """The bits of one report: bit 0 is the lowest of the first byte behind the report ID."""

    report_id: int
    n_bits: int
    bits: int

    def value(self, bit_offset: int, bit_size: int, *, signed: bool = False) -> int:
        """Return some bits as a number, in two's complement where ``signed``."""
        value = self.bits >> bit_offset & (1 << bit_size) - 1
        return value - (1 << bit_size) if signed and value >> bit_size - 1 else value
