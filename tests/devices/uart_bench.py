"""A gauge on a serial line as a UART hears it: at the wrong settings, other bytes come.

Levels and times are worked out bit by bit, so nothing here knows a decoder of ours.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from gaugelink.devices.contract import Port, VirtualClock
from gaugelink.devices.decoders.line import Parity
from gaugelink.devices.profiles.profile import PortSettings, Profile


def sent_bits(data: bytes, port: PortSettings) -> list[int]:
    """The levels on the line, one a bit time: start, data, parity, stop."""
    levels = []
    for byte in data:
        bits = [byte >> i & 1 for i in range(port.data_bits)]
        if port.parity is not Parity.NONE:
            bits.append((sum(bits) + (port.parity is Parity.ODD)) % 2)
        levels += [0, *bits, *[1] * port.stop_bits]
    return levels


def heard_bytes(levels: Sequence[int], sender_baud: int, port: PortSettings) -> bytes:
    """What a UART with ``port`` makes of levels; a stop bit that is 0 gives a zero byte."""
    length_s = len(levels) / sender_baud

    def level(at_s: float) -> int:
        return levels[int(at_s * sender_baud)] if at_s < length_s else 1

    bit_s = 1 / port.baud
    n_bits = port.data_bits + (port.parity is not Parity.NONE)
    heard, at_s = bytearray(), 0.0
    while at_s < length_s:
        if level(at_s) or level(at_s + bit_s / 2):
            at_s += bit_s / 16
            continue
        bits = [level(at_s + (1.5 + i) * bit_s) for i in range(n_bits)]
        byte = sum(bit << i for i, bit in enumerate(bits[: port.data_bits]))
        at_s += (1.5 + n_bits) * bit_s
        heard.append(byte if level(at_s) else 0)
    return bytes(heard)


@dataclass
class UartGauge:
    """A gauge at one end of the line.

    ``says`` is sent every ``every_s`` if that is not None; ``request`` is answered with it.
    """

    port: PortSettings
    says: Callable[[int], bytes]
    every_s: float | None = None
    request: bytes | None = None
    echoes: bool = False
    clock: VirtualClock = field(default_factory=VirtualClock)
    received: list[bytes] = field(default_factory=list)
    opened: list[PortSettings] = field(default_factory=list)
    open_now: int = 0
    n_said: int = 0

    def plug(self, profile: Profile) -> Port:
        return Port(transport=_Cable(self, profile.port), clock=self.clock)

    def next_line(self) -> bytes:
        self.n_said += 1
        return self.says(self.n_said)


class _Cable:
    """The computer's end, set to ``settings``."""

    address = identity = "serial:uart-bench"

    def __init__(self, gauge: UartGauge, settings: PortSettings) -> None:
        self._gauge = gauge
        self._settings = settings
        self._waiting = b""
        self._next_s = 0.0

    def open(self) -> None:
        self._gauge.opened.append(self._settings)
        self._gauge.open_now += 1
        self._next_s = self._gauge.clock.now_s() + (self._gauge.every_s or 0.0)

    def close(self) -> None:
        self._gauge.open_now -= 1

    def read(self, max_bytes: int, timeout_s: float) -> bytes:
        gauge = self._gauge
        until_s = gauge.clock.now_s() + timeout_s
        if not self._waiting and gauge.every_s and self._next_s <= until_s:
            gauge.clock.advance_to(self._next_s)
            self._next_s += gauge.every_s
            self._waiting = self._hear(gauge.next_line())
        if not self._waiting:
            gauge.clock.advance_to(until_s)
        data, self._waiting = self._waiting[:max_bytes], self._waiting[max_bytes:]
        return data

    def write(self, data: bytes) -> None:
        gauge = self._gauge
        understood = heard_bytes(sent_bits(data, self._settings), self._settings.baud, gauge.port)
        gauge.received.append(data)
        echo = understood if gauge.echoes else b""
        if understood == gauge.request:
            self._waiting += self._hear(echo + gauge.next_line())
        elif echo:
            self._waiting += self._hear(echo)

    def _hear(self, data: bytes) -> bytes:
        return heard_bytes(sent_bits(data, self._gauge.port), self._gauge.port.baud, self._settings)
