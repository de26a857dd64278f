r"""One line from a bridge: its fields, and every reason why bytes are not such a line.

A bridge is a microcontroller that counts the clock edges of a gauge and sends each
burst of bits on as a line of text. The line is a design of this project::

    #SSS,P,KIND,N,HEX,FLAGS*CCCC\r\n

    SSS    000 to 999, one more for each line, then 000 again
    P      0 to 9, the port of the bridge that the gauge is on
    KIND   see BridgeKind
    N      number of bits; in an ID line, of its text
    HEX    the bits packed as in devices.decoders.bits, two capitals or digits a byte
    FLAGS  0, or letters: see FLAG_LETTERS
    CCCC   CRC-16/CCITT-FALSE of everything between # and *, in hex
"""

from __future__ import annotations

import re
from binascii import crc_hqx
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from gaugelink.devices.decoders.bits import BitFlag
from gaugelink.model import Fault, FaultKind

MAX_LINE_BYTES = 128

FLAG_LETTERS: Mapping[str, BitFlag] = {
    "T": BitFlag.TRUNCATED,
    "X": BitFlag.EXTRA_EDGES,
    "G": BitFlag.GLITCHES,
    "O": BitFlag.OVERRUN,
    "B": BitFlag.BUTTON,
    "R": BitFlag.REQUESTED,
}

_ENVELOPE = re.compile(rb"#(?P<text>[^#*\r\n]*)\*(?P<crc>[0-9A-F]{4})\r\n")
_FIELDS = re.compile(
    r"(?P<number>\d{3}),(?P<port>\d),(?P<kind>[A-Z\d]+),(?P<bits>0|[1-9]\d{0,2}),"
    rf"(?P<hex>(?:[\dA-F]{{2}})*),(?P<flags>0|[{''.join(FLAG_LETTERS)}]+)",
    re.ASCII,
)


class BridgeKind(StrEnum):
    """What a line carries: a burst of bits from one kind of gauge, or news of the bridge."""

    N52 = "N52"  # 52 bits, thirteen nibbles
    B24 = "B24"  # 24 bits, sign and magnitude
    B48 = "B48"  # two words of 24 bits
    B7N = "B7N"  # seven nibbles
    B21 = "B21"  # 21 bits, clocked by the bridge
    KEY = "KEY"  # a button or a pedal on the bridge was pressed
    HEARTBEAT = "HB"  # once a second while the bridge runs
    IDENT = "ID"  # who the bridge is: after a start, and when it is asked


_KINDS = frozenset(kind.value for kind in BridgeKind)


@dataclass(frozen=True, slots=True, kw_only=True)
class BridgeRecord:
    """The fields of one whole, undamaged line; ``raw`` is the line with its end."""

    number: int
    port: int
    kind: BridgeKind
    n_bits: int
    packed: bytes
    flags: frozenset[BitFlag]
    raw: bytes


def read_record(raw: bytes) -> BridgeRecord | Fault:
    """Return the fields of one line, or why it is none.

    Args:
        raw: everything up to and including a line feed.
    """
    envelope = _ENVELOPE.fullmatch(raw)
    if envelope is None:
        return _fault(raw, "is not a whole line from a bridge; just after opening, one is usual")
    expected = f"{crc_hqx(envelope['text'], 0xFFFF):04X}".encode()
    if envelope["crc"] != expected:
        return _fault(raw, f"was damaged on its way: its checksum would be {expected.decode()}")
    fields = _FIELDS.fullmatch(envelope["text"].decode("latin-1"))
    if fields is None:
        return _fault(raw, "has a right checksum, but its fields are not those of a bridge line")
    if fields["kind"] not in _KINDS:
        return _fault(raw, f"is of a kind {fields['kind']!r} that is not known")
    return _checked_bits(raw, fields)


def _checked_bits(raw: bytes, fields: re.Match[str]) -> BridgeRecord | Fault:
    n_bits, packed = int(fields["bits"]), bytes.fromhex(fields["hex"])
    if len(packed) != (n_bits + 7) // 8 or int.from_bytes(packed, "little") >> n_bits:
        return _fault(raw, f"does not hold the {n_bits} bits that it says")
    return BridgeRecord(
        number=int(fields["number"]),
        port=int(fields["port"]),
        kind=BridgeKind(fields["kind"]),
        n_bits=n_bits,
        packed=packed,
        flags=frozenset(FLAG_LETTERS[letter] for letter in fields["flags"] if letter != "0"),
        raw=raw,
    )


def _fault(raw: bytes, why: str) -> Fault:
    return Fault(kind=FaultKind.UNPARSED, reason=f"{raw!r} {why}", raw=raw)
