"""HID report descriptors, from their items to the fields of the reports (HID 1.11, 6.2.2).

Global items set values that hold until they are changed (Push and Pop keep them and
bring them back), local items hold for the next main item, and each Input, Output or
Feature item makes one field. Only what is needed to read values is kept: strings,
designators and inner collections are not.

From memory: the numbers of tags and types. As hosts do it: a limit is signed by the size
of its item, but a maximum that would fall below a minimum of 0 or more is unsigned; a usage
of one or two bytes takes the usage page that holds at the main item.

Reports travel in a byte stream that keeps their borders, and the descriptor with them::

    report        n  b1 ... bn           n = 1 ... 255
    descriptor    0  low high  d1 ... dm   m = low + 256 * high

A report means nothing without the report descriptor of its device, so the transport
sends that ahead of the first report each time it has opened the device. A recording
of the stream can therefore be decoded again, and by a better decoder.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum, IntEnum
from itertools import chain, islice, repeat

from gaugelink.errors import DeviceError
from gaugelink.model import Fault, FaultKind

# A descriptor of a few bytes can declare terabytes; no host takes longer reports.
MAX_REPORT_BITS = 8 * 4096
_CONSTANT, _VARIABLE, _RELATIVE, _NULL_STATE = 0x01, 0x02, 0x04, 0x40
_LONG_ITEM = 0xFE
MAX_REPORT_BYTES = 255


def parse_descriptor(descriptor: bytes) -> ReportDescriptor:
    """Read a report descriptor into the fields of its reports.

    Raises:
        DeviceError: it breaks a rule of HID 1.11, and where.
    """
    parser = _Parser()
    for item in short_items(descriptor):
        parser.take(item)
    return parser.finish(len(descriptor))


class _Parser:
    """The state of HID 1.11, 5.4: a table of globals, its stack, locals, collections."""

    def __init__(self) -> None:
        self._globals: dict[int, Item] = {}
        self._stack: list[dict[int, Item]] = []
        self._locals: list[Item] = []
        self._collections: list[int] = []  # the usage of each open one
        self._fields: list[HidField] = []
        self._next_bit: dict[tuple[FieldKind, int], int] = {}

    def take(self, item: Item) -> None:
        match item.type:
            case ItemType.MAIN:
                self._main(item)
                self._locals.clear()
            case ItemType.GLOBAL:
                self._global(item)
            case ItemType.LOCAL:
                if item.tag == LocalTag.DELIMITER:
                    raise unreadable("it names alternative usages", item.position)
                self._locals.append(item)

    def finish(self, position: int) -> ReportDescriptor:
        if self._collections:
            raise unreadable("a collection is not ended", position)
        ids = {field.report_id for field in self._fields}
        if 0 in ids and len(ids) > 1:
            raise unreadable("some reports have an ID and some have none", position)
        return ReportDescriptor(fields=tuple(self._fields), has_report_ids=bool(ids - {0}))

    def _global(self, item: Item) -> None:
        if item.tag == GlobalTag.PUSH:
            self._stack.append(dict(self._globals))
        elif item.tag == GlobalTag.POP:
            if not self._stack:
                raise unreadable("a Pop has no Push", item.position)
            self._globals = self._stack.pop()
        elif item.tag == GlobalTag.REPORT_ID and not 0 < item.unsigned < 256:
            raise unreadable(f"{item.unsigned} is not a report ID", item.position)
        else:
            self._globals[item.tag] = item

    def _main(self, item: Item) -> None:
        if item.tag == MainTag.COLLECTION:
            usages = self._usages(item.position)
            self._collections.append(usages[0].first if usages else 0)
        elif item.tag == MainTag.END_COLLECTION:
            if not self._collections:
                raise unreadable("an End Collection has no beginning", item.position)
            self._collections.pop()
        elif item.tag in (MainTag.INPUT, MainTag.OUTPUT, MainTag.FEATURE):
            self._add_field(FieldKind(item.tag), item)

    def _add_field(self, kind: FieldKind, item: Item) -> None:
        bit_size = self._number(GlobalTag.REPORT_SIZE)
        count = self._number(GlobalTag.REPORT_COUNT)
        if not bit_size * count:
            return
        report_id = self._number(GlobalTag.REPORT_ID)
        field = HidField(
            kind=kind,
            report_id=report_id,
            bit_offset=self._next_bit.get((kind, report_id), 0),
            bit_size=bit_size,
            count=count,
            usages=tuple(self._usages(item.position)),
            limits=self._limits(),
            application=self._collections[0] if self._collections else 0,
            is_constant=bool(item.unsigned & _CONSTANT),
            is_variable=bool(item.unsigned & _VARIABLE),
            is_relative=bool(item.unsigned & _RELATIVE),
            has_null_state=bool(item.unsigned & _NULL_STATE),
        )
        if field.end_bit > MAX_REPORT_BITS:
            raise unreadable("a report is too long for any host", item.position)
        self._next_bit[kind, report_id] = field.end_bit
        self._fields.append(field)

    def _usages(self, position: int) -> list[UsageRange]:
        """Join the local usages, in order, with the usage page that holds now."""
        usages: list[UsageRange] = []
        first: int | None = None
        for item in self._locals:
            usage = self._with_page(item)
            if item.tag == LocalTag.USAGE:
                usages.append(UsageRange(first=usage, last=usage))
            elif item.tag == LocalTag.USAGE_MIN:
                first = usage
            elif item.tag == LocalTag.USAGE_MAX:
                if first is None or usage < first:
                    raise unreadable("a range of usages ends before it begins", position)
                usages.append(UsageRange(first=first, last=usage))
                first = None
        return usages

    def _with_page(self, item: Item) -> int:
        if len(item.data) == 4:
            return item.unsigned
        return (self._number(GlobalTag.USAGE_PAGE) & 0xFFFF) << 16 | item.unsigned

    def _limits(self) -> FieldLimits:
        logical_min, logical_max = self._range(GlobalTag.LOGICAL_MIN, GlobalTag.LOGICAL_MAX)
        physical_min, physical_max = self._range(GlobalTag.PHYSICAL_MIN, GlobalTag.PHYSICAL_MAX)
        return FieldLimits(
            logical_min=logical_min,
            logical_max=logical_max,
            physical_min=physical_min,
            physical_max=physical_max,
            unit=self._number(GlobalTag.UNIT),
            unit_exponent=_exponent(self._item(GlobalTag.UNIT_EXPONENT)),
        )

    def _range(self, low: GlobalTag, high: GlobalTag) -> tuple[int, int]:
        minimum, maximum = self._item(low).signed, self._item(high)
        if minimum >= 0 > maximum.signed:
            return minimum, maximum.unsigned
        return minimum, maximum.signed

    def _number(self, tag: GlobalTag) -> int:
        return self._item(tag).unsigned

    def _item(self, tag: GlobalTag) -> Item:
        return self._globals.get(tag) or Item(type=ItemType.GLOBAL, tag=tag, data=b"")


def _exponent(item: Item) -> int:
    """Read a nibble in two's complement; with bits above it, a plain signed number.

    The second form breaks the rule of 6.2.2.7 but occurs (from memory).
    """
    if item.unsigned > 0xF:
        return item.signed
    return item.unsigned - 16 if item.unsigned > 7 else item.unsigned


class ItemType(IntEnum):
    """Bits 2 and 3 of the prefix."""

    MAIN = 0
    GLOBAL = 1
    LOCAL = 2
    RESERVED = 3


class MainTag(IntEnum):
    """Bits 4 to 7 of the prefix of a main item."""

    INPUT = 0x8
    OUTPUT = 0x9
    COLLECTION = 0xA
    FEATURE = 0xB
    END_COLLECTION = 0xC


class GlobalTag(IntEnum):
    """Bits 4 to 7 of the prefix of a global item."""

    USAGE_PAGE = 0x0
    LOGICAL_MIN = 0x1
    LOGICAL_MAX = 0x2
    PHYSICAL_MIN = 0x3
    PHYSICAL_MAX = 0x4
    UNIT_EXPONENT = 0x5
    UNIT = 0x6
    REPORT_SIZE = 0x7
    REPORT_ID = 0x8
    REPORT_COUNT = 0x9
    PUSH = 0xA
    POP = 0xB


class LocalTag(IntEnum):
    """Bits 4 to 7 of the prefix of a local item."""

    USAGE = 0x0
    USAGE_MIN = 0x1
    USAGE_MAX = 0x2
    DELIMITER = 0xA


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One short item; ``position`` is that of its prefix in the descriptor, from 0."""

    type: ItemType
    tag: int
    data: bytes
    position: int = 0

    @property
    def unsigned(self) -> int:
        """The data as a number from 0 up; no data is 0."""
        return int.from_bytes(self.data, "little")

    @property
    def signed(self) -> int:
        """The data as a two's complement number of its own size."""
        return int.from_bytes(self.data, "little", signed=True)


def short_items(descriptor: bytes) -> Iterator[Item]:
    """Yield the short items in order; long items, which nothing defines, are stepped over.

    Raises:
        DeviceError: the last item is cut off.
    """
    position = 0
    while position < len(descriptor):
        prefix = descriptor[position]
        start = position + 1
        end = start + (0, 1, 2, 4)[prefix & 3]
        if prefix == _LONG_ITEM:
            start += 2
            end = start + (descriptor[position + 1] if position + 1 < len(descriptor) else 0)
        if end > len(descriptor):
            raise unreadable("its last item is cut off", position)
        if prefix != _LONG_ITEM:
            kind = ItemType(prefix >> 2 & 3)
            yield Item(type=kind, tag=prefix >> 4, data=descriptor[start:end], position=position)
        position = end


def unreadable(why: str, position: int) -> DeviceError:
    """Return the error to raise about the descriptor at ``position``."""
    return DeviceError(
        f"The gauge's HID report descriptor cannot be read: {why} (byte {position}).",
        hint="Try another interface of the gauge; 'gaugelink gauges' lists them.",
    )


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
class FieldLimits:
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
    limits: FieldLimits
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """One input report as the device sent it; ``raw`` is its stretch of the stream."""

    data: bytes
    raw: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Descriptor:
    """A report descriptor as the device sent it; ``raw`` is its stretch of the stream."""

    data: bytes
    raw: bytes


def frame_report(data: bytes) -> bytes:
    """Return a report as it travels; what is beyond 255 bytes is cut off."""
    cut = data[:MAX_REPORT_BYTES]
    return bytes([len(cut)]) + cut if cut else b""


def frame_descriptor(data: bytes) -> bytes:
    """Return a report descriptor as it travels."""
    return b"\0" + len(data).to_bytes(2, "little") + data


class ReportStream:
    """Undoes the framing; holds less than one record between calls, so at most 64 KiB."""

    def __init__(self) -> None:
        self._pending = bytearray()

    def feed(self, data: bytes) -> list[Report | Descriptor]:
        """Take bytes; return the records they complete, in order."""
        self._pending += data
        records: list[Report | Descriptor] = []
        start = 0
        while (end := self._end_of_record(start)) is not None:
            records.append(_record(bytes(self._pending[start:end])))
            start = end
        del self._pending[:start]
        return records

    def flush(self) -> list[Fault]:
        """Report a record that silence has cut off."""
        raw = bytes(self._pending)
        self.reset()
        if not raw:
            return []
        reason = "the report stopped before its end"
        return [Fault(kind=FaultKind.INCOMPLETE, reason=reason, raw=raw)]

    def reset(self) -> None:
        """Forget the record in progress."""
        self._pending.clear()

    def _end_of_record(self, start: int) -> int | None:
        """Return where the record that begins at ``start`` ends; None when that has not come."""
        have = len(self._pending)
        if start >= have:
            return None
        end = start + 1 + self._pending[start]
        if self._pending[start] == 0:
            # With its length still to come, this is more than there is.
            end = start + 3 + int.from_bytes(self._pending[start + 1 : start + 3], "little")
        return end if end <= have else None


def _record(raw: bytes) -> Report | Descriptor:
    if raw[0] == 0:
        return Descriptor(data=raw[3:], raw=raw)
    return Report(data=raw[1:], raw=raw)
