"""What a HID gauge sends: the data that one ``HidKeysDecoder`` or ``HidFieldDecoder`` works from.

A profile whose decoder is ``hid-keys`` has a table ``[line]`` for what the keys spell,
as any other text, and may have ``[hid_keys]``::

    layout = "us"                           # or "de", "fr": what the gauge is set for
    line_ends = ["enter", "keypad enter", "tab"]
    ends_on_silence = false                 # the gap rule, for gauges that press no end key
    in_array_order = false

A profile whose decoder is ``hid-field`` may have ``[hid_field]``; with none of it the
only length that the gauge's descriptor declares is read::

    report_id = 1
    usage = 0xFF000010                      # usage page in the high 16 bits; or
    bit_offset = 8                          # counted after the report ID byte, with
    bit_size = 24
    signed = true                           # only counts where step is given
    step = 0.01                             # length of one count; sets the descriptor's aside
    unit_default = "mm"                     # where the descriptor states no length unit
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from gaugelink.devices.decoders.line import LineFormat
from gaugelink.units import LengthUnit


class KeyboardLayout(StrEnum):
    """The keyboard layout that a gauge is set to type on; not that of the computer."""

    US = "us"
    DE = "de"
    FR = "fr"


class KeyLineEnd(StrEnum):
    """A key that may end a line."""

    ENTER = "enter"
    KEYPAD_ENTER = "keypad enter"
    TAB = "tab"


@dataclass(frozen=True, slots=True, kw_only=True)
class HidKeysFormat:
    """How a gauge types its readings.

    Args:
        line: what a typed line looks like; its line ends are not looked at, as keys end it.
        layout: what the gauge is set for.
        line_ends: the keys that end a line.
        ends_on_silence: a line also ends when the gauge falls silent. Only for gauges
            that press no end key: a pause inside 11.52 would make two numbers of it.
        in_array_order: keys that go down in one and the same report count in the order
            in which they stand in it. HID leaves that order undefined, so such a line
            is otherwise a fault.
    """

    line: LineFormat
    layout: KeyboardLayout = KeyboardLayout.US
    line_ends: frozenset[KeyLineEnd] = frozenset(KeyLineEnd)
    ends_on_silence: bool = False
    in_array_order: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class HidFieldFormat:
    """Which bits of a gauge's reports are its length, and what they mean.

    With neither ``usage`` nor ``bit_offset`` it is the only field that the descriptor
    gives a unit of length.

    Args:
        report_id: only reports with this ID; None takes any. 0 where there are no IDs.
        usage: usage page times 65536 plus usage of the field.
        bit_offset: its first bit, counted from 0 after the report ID byte.
        bit_size: how many bits it has, 1 to 32; goes with ``bit_offset``.
        signed: the bits are a two's complement number; only where ``step`` is given.
        step: length of one count in ``unit_default``. It sets aside what the descriptor
            says of limits and units, for gauges that send plain bytes or declare nonsense.
        unit_default: the unit where the descriptor states none, or with ``step``.
    """

    report_id: int | None = None
    usage: int | None = None
    bit_offset: int | None = None
    bit_size: int | None = None
    signed: bool = True
    step: Decimal | None = None
    unit_default: LengthUnit | None = None
