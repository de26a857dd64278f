"""The items of a HID report descriptor, one after the other (HID 1.11, 6.2.2.1 to 6.2.2.3).

The numbers of tags and types are from memory of that text.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum

from gaugelink.errors import DeviceError

_LONG_ITEM = 0xFE


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
