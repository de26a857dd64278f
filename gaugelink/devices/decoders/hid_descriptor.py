"""HID report descriptors: from their items to the fields of the reports (HID 1.11, 6.2.2).

Global items set values that hold until they are changed (Push and Pop keep them and
bring them back), local items hold for the next main item, and each Input, Output or
Feature item makes one field. Only what is needed to read values is kept: strings,
designators and inner collections are not.

From memory, as hosts do it: a limit is signed by the size of its item, but a maximum
that would fall below a minimum of 0 or more is unsigned; a usage of one or two bytes
takes the usage page that holds at the main item.
"""

from __future__ import annotations

from gaugelink.devices.decoders.hid_items import (
    GlobalTag,
    Item,
    ItemType,
    LocalTag,
    MainTag,
    short_items,
    unreadable,
)
from gaugelink.devices.decoders.hid_report import (
    FieldKind,
    HidField,
    Limits,
    ReportDescriptor,
    UsageRange,
)

# A descriptor of a few bytes can declare terabytes; no host takes longer reports.
MAX_REPORT_BITS = 8 * 4096

_CONSTANT, _VARIABLE, _RELATIVE, _NULL_STATE = 0x01, 0x02, 0x04, 0x40


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
            raise unreadable(f"{item.unsigned} is no report ID", item.position)
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

    def _limits(self) -> Limits:
        logical_min, logical_max = self._range(GlobalTag.LOGICAL_MIN, GlobalTag.LOGICAL_MAX)
        physical_min, physical_max = self._range(GlobalTag.PHYSICAL_MIN, GlobalTag.PHYSICAL_MAX)
        return Limits(
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
