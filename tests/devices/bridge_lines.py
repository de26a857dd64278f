"""Writes lines as a bridge does, with a checksum worked out bit by bit."""

from __future__ import annotations

from collections.abc import Sequence

from gaugelink.devices.decoders.bits import BitFlag, BitFrame, pack
from gaugelink.devices.decoders.bridge_line import FLAG_LETTERS
from gaugelink.model import Ident, WireEvent


def crc16(data: bytes) -> int:
    """CRC-16/CCITT-FALSE: polynomial 1021, begins with FFFF, not reflected."""
    crc = 0xFFFF
    for byte in data:
        for bit in range(8):
            top = crc >> 15 ^ byte >> (7 - bit) & 1
            crc = (crc << 1 ^ (0x1021 if top else 0)) & 0xFFFF
    return crc


def sealed(text: str) -> bytes:
    """Put the frame and the checksum around the text of a line."""
    return f"#{text}*{crc16(text.encode()):04X}\r\n".encode()


def line(
    number: int,
    kind: str,
    *,
    bits: Sequence[int] = (),
    flags: frozenset[BitFlag] = frozenset(),
    port: int = 0,
) -> bytes:
    letters = "".join(letter for letter, flag in FLAG_LETTERS.items() if flag in flags) or "0"
    fields = f"{number:03d},{port},{kind},{len(bits)},{pack(bits).hex().upper()},{letters}"
    return sealed(fields)


def ident_line(number: int, text: str) -> bytes:
    bits = [byte >> i & 1 for byte in text.encode() for i in range(8)]
    return line(number, "ID", bits=bits)


class BurstKeeper:
    """A bit decoder that keeps what it is handed and says so."""

    def __init__(self) -> None:
        self.bursts: list[BitFrame] = []
        self.resets = 0

    def decode(self, frame: BitFrame) -> list[WireEvent]:
        self.bursts.append(frame)
        return [Ident(text=f"burst {len(self.bursts)}", raw=frame.raw)]

    def reset(self) -> None:
        self.resets += 1
