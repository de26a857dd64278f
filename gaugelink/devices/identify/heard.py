"""What was heard at a port, and what the highest bit of its bytes is.

A port that is opened with 8 data bits hears everything: of a gauge that sends 7 bits it
hears the parity bit, or the first stop bit, in bit 7.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from gaugelink.devices.decoders.bridge_line import BURSTS, BridgeRecord, read_record
from gaugelink.devices.decoders.line import Parity
from gaugelink.devices.profiles.profile import PortSettings

# Line noise keeps a parity half of the time: this lets about a fifth of the bytes be noise.
MOST = 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """The bytes of one listening, in order and without gaps.

    Args:
        data: as they came.
        settings: how the port was set; None where settings have no effect (a socket, a
            pseudo-terminal, HID).
        request: what was sent just before; None when the bytes came by themselves.
        duration_s: time from the first byte to the last, in seconds.
    """

    data: bytes
    settings: PortSettings | None = None
    request: bytes | None = None
    duration_s: float = 0.0


class Bit7(StrEnum):
    """What bit 7 of the bytes is."""

    DATA = "data"
    EVEN = "even parity"
    ODD = "odd parity"
    STOP = "a stop bit"


PARITY = {Bit7.EVEN: Parity.EVEN, Bit7.ODD: Parity.ODD}


def bit7_of(data: bytes) -> Bit7:
    """Return what bit 7 looks like: a parity that most bytes keep, always 1, or plain data."""
    high = sum(byte >> 7 for byte in data)
    if not high:
        return Bit7.DATA
    even = sum(byte.bit_count() % 2 == 0 for byte in data)
    if even >= MOST * len(data):
        return Bit7.EVEN
    if len(data) - even >= MOST * len(data):
        return Bit7.ODD
    return Bit7.STOP if high >= MOST * len(data) else Bit7.DATA


def burst_ports(data: bytes) -> frozenset[int] | None:
    """Return the ports of a bridge from which bursts came; None where no bridge is heard."""
    lines = (line[line.rfind(b"#") :] for line in data.splitlines(keepends=True))
    records = [r for r in map(read_record, lines) if isinstance(r, BridgeRecord)]
    if not records:
        return None
    return frozenset(r.port for r in records if r.kind in BURSTS and r.n_bits)


def is_idle_bridge(data: bytes, port: int | None = None) -> bool:
    """Tell whether a bridge is heard, but no gauge on its port ``port``, or on any."""
    ports = burst_ports(data)
    return ports is not None and not (ports if port is None else ports & {port})
