"""What a key types: from positions on the keyboard page (0x07) to characters.

HID sends positions, whatever is printed on the key; the layout says what they mean. The
letters and the top row of the US layout are those of the HID Usage Tables, page 0x07;
the keypad and the other two layouts are from memory, and only as far as numbers and
units go. Keys for accents and other characters beyond ASCII type nothing here.
"""

from __future__ import annotations

from collections.abc import Mapping

from gaugelink.devices.decoders.hid_format import KeyboardLayout, KeyLineEnd

SHIFTS = frozenset({0xE1, 0xE5})
MODIFIERS = range(0xE0, 0xE8)
DIGIT_ROW = range(0x1E, 0x28)

LINE_ENDS: Mapping[int, KeyLineEnd] = {
    0x28: KeyLineEnd.ENTER,
    0x2B: KeyLineEnd.TAB,
    0x58: KeyLineEnd.KEYPAD_ENTER,
}

_NOTHING = "\0"


def character(usage: int, *, shift: bool, layout: KeyboardLayout) -> str:
    """Return the character that a key types, empty when it types none that is known.

    Args:
        usage: of the key, without its usage page.
        shift: a shift key is held; the keypad then types nothing.
        layout: what the gauge is set for.
    """
    return (_SHIFTED if shift else _PLAIN)[layout].get(usage, "")


def _spread(rows: Mapping[int, str]) -> dict[int, str]:
    """Give each character of a row its own usage, counted up from that of the row."""
    return {
        first + i: character
        for first, row in rows.items()
        for i, character in enumerate(row)
        if character != _NOTHING
    }


_KEYPAD = {0x54: "/*-+", 0x59: "1234567890.", 0x85: ","}
_SPACE = {0x2C: " "}

_PLAIN: Mapping[KeyboardLayout, Mapping[int, str]] = {
    layout: _spread(rows | _KEYPAD | _SPACE)
    for layout, rows in {
        KeyboardLayout.US: {
            0x04: "abcdefghijklmnopqrstuvwxyz",
            0x1E: "1234567890",
            0x2D: "-=[]\\",
            0x33: ";'`,./",
        },
        KeyboardLayout.DE: {
            0x04: "abcdefghijklmnopqrstuvwxzy",
            0x1E: "1234567890",
            0x30: "+",
            0x36: ",.-",
        },
        # The digit row types digits with shift only; & and the like are left out, so that
        # a gauge set for another layout is noticed.
        KeyboardLayout.FR: {
            0x04: "qbcdefghijkl,noparstuvzxyw",
            0x1E: '\0\0"\0\0-\0\0\0\0',
            0x2E: "=",
            0x33: "m",
            0x36: ";:",
        },
    }.items()
}

_SHIFTED: Mapping[KeyboardLayout, Mapping[int, str]] = {
    layout: _spread(rows | _SPACE)
    for layout, rows in {
        KeyboardLayout.US: {
            0x04: "ABCDEFGHIJKLMNOPQRSTUVWXYZ",
            0x1E: "!@#$%^&*()",
            0x2D: "_+{}|",
            0x33: ':"~<>?',
        },
        KeyboardLayout.DE: {
            0x04: "ABCDEFGHIJKLMNOPQRSTUVWXZY",
            0x1E: '!"\0$%&/()=',
            0x2D: "?",
            0x30: "*",
            0x36: ";:_",
        },
        KeyboardLayout.FR: {
            0x04: "QBCDEFGHIJKL?NOPARSTUVZXYW",
            0x1E: "1234567890",
            0x2E: "+",
            0x33: "M",
            0x36: "./",
        },
    }.items()
}
