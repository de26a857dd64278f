"""How a gauge of each shipped format puts a value on the wire, without our decoders.

A value is a whole number of digital steps. The bytes come in pieces: one byte each, or
one report each for a HID gauge, which can lose or repeat nothing smaller.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "devices"))

from bit_encoders import Bits, bcd7, bcd52, signmag24, word
from bridge_lines import line as bridge_line
from hid_bench import BOOT_DESCRIPTOR, down

from gaugelink.devices.decoders.hid_descriptor import frame_descriptor, frame_report
from gaugelink.devices.decoders.hid_keys import KeyboardLayout, character
from gaugelink.devices.decoders.line import Parity
from gaugelink.devices.profiles.profile import (
    PortSettings,
    Profile,
    as_opened,
    find_profile,
    load_profiles,
)
from gaugelink.units import MM_PER_INCH, LengthUnit

Pieces = tuple[bytes, ...]
MM, INCH = LengthUnit.MM, LengthUnit.INCH

# One length of 16 bits in 0.01 mm behind report ID 1. Constructed after HID 1.11, 6.2.2.
ONE_LENGTH = bytes.fromhex(
    "06 00 ff 09 01 a1 01 85 01 09 10 16 01 80 26 ff 7f 55 0d 65 11 75 10 95 01 81 02 c0"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sender:
    """A gauge of one format: ``bits`` or ``pieces`` writes a value of so many steps.

    ``step`` is the digital step in each unit that the wire can carry; ``opening`` is what
    a port gives each time that it was opened; ``piece_bits`` are the bits of a byte.
    """

    name: str
    profile: Profile
    step: Mapping[LengthUnit, Decimal]
    bits: Callable[[int, LengthUnit], Bits] | None = None
    pieces: Callable[[int, LengthUnit], Pieces] | None = None
    opening: bytes = b""
    piece_bits: int = 8
    longest_mm: int = 150

    def truth_mm(self, steps: int, unit: LengthUnit) -> float:
        """Return the length that is put on the wire."""
        size = steps * self.step[unit]
        return float(size * MM_PER_INCH if unit is INCH else size)

    @property
    def needs_two(self) -> bool:
        """True when a value may pass only the second time in a row."""
        return self.name.startswith(("signmag24", "line-2400-7N2"))


def as_bytes(text: str) -> Pieces:
    return tuple(bytes([byte]) for byte in text.encode("ascii"))


def digits_of(steps: int, places: int, width: int = 0) -> str:
    return f"{Decimal(abs(steps)).scaleb(-places):.{places}f}".rjust(width, "0")


def sign_of(steps: int, plus: str = "+") -> str:
    return "-" if steps < 0 else plus


Text = Callable[[int, int, str], str]  # steps, places and unit to a line with its end

LINES: Mapping[str, tuple[Text, int, bool]] = {  # the line, places in mm, whether it has a unit
    "line-1200-8N2-padded": (
        lambda n, p, u: " " * 13 + f"{sign_of(n, ' ')}{digits_of(n, p, 7)} {u}\r", 3, True),
    "line-2400-7N2-modes": (
        lambda n, p, u: f"n{sign_of(n)} {digits_of(n, p)}{u[0].upper()}\n", 3, True),
    "line-4800-7E2-plain": (lambda n, p, u: f"{sign_of(n)}{digits_of(n, p)}\r", 2, False),
    "line-9600-7E2-multi": (
        lambda n, p, u: f"1 {sign_of(n)}{digits_of(n, p, 6)} {u}\r", 2, True),
    "line-9600-8N1-tagged": (
        lambda n, p, u: f"01A{sign_of(n)}{digits_of(n, p, 8)}\r", 3, False),
    "line-9600-8N1-unit": (
        lambda n, p, u: f"{sign_of(n)}{digits_of(n, p):>8}, {u.upper()}\r\n", 2, True),
    "line-id-comma": (
        lambda n, p, u: f"GN01,{sign_of(n)}{digits_of(n, p, 9)}\r\n", 4, False),
    "line-two-channel": (lambda n, p, u: f"A{sign_of(n)}{digits_of(n, p, 7)}\r\n", 3, False),
    "text-input": (lambda n, p, u: f"{sign_of(n, '')}{digits_of(n, p)} {u}\r", 2, True),
}  # fmt: skip


def line_sender(name: str) -> Sender:
    """Return a gauge of text as its port hears it: seven data bits have an eighth behind them."""
    text, places, has_unit = LINES[name]
    more = {INCH: Decimal(1).scaleb(-places - 2)} if has_unit else {}
    profile = find_profile(name)
    tens = {MM: places, INCH: places + 2}
    return Sender(
        name=name,
        profile=as_opened(profile),
        step={MM: Decimal(1).scaleb(-places), **more},
        pieces=lambda n, unit: on_the_wire(text(n, tens[unit], str(unit)), profile.port),
    )


def on_the_wire(text: str, port: PortSettings) -> Pieces:
    if port.data_bits == 8:
        return as_bytes(text)
    parity = {Parity.NONE: lambda ones: 1, Parity.EVEN: lambda ones: ones % 2}[port.parity]
    return tuple(bytes([byte | parity(byte.bit_count()) << 7]) for byte in text.encode("ascii"))


def unchecked(name: str) -> Sender:
    """Return what a 7E2 gauge was worth when its port took the parity bit away."""
    profile = find_profile(name)
    text, places, _ = LINES[name]
    tens = {MM: places, INCH: places + 2}
    return replace(
        line_sender(name),
        name=f"{name} - parity",
        profile=profile,
        pieces=lambda n, unit: as_bytes(text(n, tens[unit], str(unit))),
        piece_bits=7,
    )


def size52(steps: int, unit: LengthUnit) -> Decimal:
    return Decimal(steps).scaleb(-2 if unit is MM else -4)


def bits_sender(
    name: str,
    bits: Callable[[int, LengthUnit], Bits],
    mm: str = "0.01",
    inch: str | None = "0.0005",
    longest_mm: int = 150,
) -> Sender:
    step = {MM: Decimal(mm), **({INCH: Decimal(inch)} if inch else {})}
    return Sender(
        name=name, profile=find_profile(name), step=step, bits=bits, longest_mm=longest_mm
    )


def halves(steps: int, unit: LengthUnit) -> Bits:
    """Write the 28-bit frame; in inches a step is half a thousandth."""
    minus = "N" if steps < 0 else ""
    if unit is MM:
        return bcd7(abs(steps), minus + "M")
    return bcd7(abs(steps) // 2, minus + ("H" if steps % 2 else ""))


BITS = (
    bits_sender("bcd52", lambda n, u: bcd52(size52(n, u), int(u is INCH)), inch="0.0001"),
    bits_sender(
        "bcd52-judged", lambda n, u: bcd52(size52(n, u), 6 if u is INCH else 3), inch="0.0001"
    ),
    bits_sender(
        "bcd52-7digit",
        lambda n, u: bcd52(size52(n, u), int(u is INCH), digits=7 if u is INCH else 6),
        inch="0.0001",
    ),
    bits_sender(
        "bcd52-8digit", lambda n, u: bcd52(size52(n, u), int(u is INCH), digits=8), inch="0.0001"
    ),
    bits_sender("signmag24", lambda n, u: signmag24(abs(n), negative=n < 0, inch=u is INCH)),
    bits_sender("abs-rel-2x24", lambda n, u: (*word(77, 24), *word(n, 24)), "0.001240234375", None),
    bits_sender("bcd7-flags", halves),
    bits_sender("host-clocked-21", lambda n, u: word(n, 21), "0.009921875", None),
)


def in_a_line(sender: Sender, number: int, bits: Bits) -> Pieces:
    """Write what the bridge makes of one burst; its lines are numbered."""
    kind = {"bcd52": "N52", "signmag24": "B24", "abs-rel-2x24": "B48", "bcd7-flags": "B7N"}
    known = next((k for n, k in kind.items() if sender.name.startswith(n)), "B21")
    return as_bytes(bridge_line(number % 1000, known, bits=bits).decode())


KEYS = {
    character(usage, shift=False, layout=KeyboardLayout.US): usage for usage in range(4, 0x39)
} | {"\r": 0x28}


def typed(steps: int, unit: LengthUnit) -> Pieces:
    text = sign_of(steps, "") + digits_of(steps, 2 if unit is MM else 4) + str(unit) + "\r"
    return tuple(frame_report(report) for key in text for report in (down(KEYS[key]), down()))


def length_report(steps: int, unit: LengthUnit) -> Pieces:
    return (frame_report(b"\x01" + (steps % 2**16).to_bytes(2, "little")),)


HID = (
    Sender(
        name="hid-keyboard",
        profile=find_profile("hid-keyboard"),
        step={MM: Decimal("0.01"), INCH: Decimal("0.0001")},
        pieces=typed,
        opening=frame_descriptor(BOOT_DESCRIPTOR),
    ),
    Sender(
        name="hid-field",
        profile=find_profile("hid-field"),
        step={MM: Decimal("0.01")},
        pieces=length_report,
        opening=frame_descriptor(ONE_LENGTH),
    ),
)

WHAT_IF = (unchecked("line-4800-7E2-plain"), unchecked("line-9600-7E2-multi"))
SENDERS = (*BITS, *map(line_sender, LINES), *WHAT_IF, *HID)


def unsent() -> set[str]:
    """Return the shipped formats that nothing here writes."""
    return set(load_profiles().names) - {sender.name for sender in SENDERS}
