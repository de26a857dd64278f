"""The two contracts of the device layer: a transport does I/O, a decoder does none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from gaugelink.devices.clock import Clock
from gaugelink.model import WireEvent


class Transport(Protocol):
    """Moves bytes between one port and us; knows nothing of what they mean."""

    @property
    def address(self) -> str:
        """The address as the user would type it."""

    @property
    def identity(self) -> str:
        """A name that stays the same when the gauge is replugged elsewhere."""

    def open(self) -> None:
        """Open the port, or open it again by identity after a loss.

        Raises:
            GaugeNotFound: nothing is there.
            GaugeUnavailable: it is there but busy or not permitted.
        """

    def read(self, max_bytes: int, timeout_s: float) -> bytes:
        """Return what has come, at most ``max_bytes``; ``b""`` when nothing came in time.

        Raises:
            GaugeDisconnected: the port has gone.
        """

    def write(self, data: bytes) -> None:
        """Send ``data`` (a read request); same errors as ``read``."""

    def close(self) -> None:
        """Close the port; safe to call twice and after a loss."""


class Decoder(Protocol):
    """Turns bytes into events: pure, one per wire format, fed in any split.

    A decoder raises nothing on bad bytes and guesses nothing: what is not a
    whole, valid frame becomes a ``Fault`` with the bytes and the reason. Its
    memory is bounded whatever it is fed.
    """

    def feed(self, data: bytes) -> list[WireEvent]:
        """Take bytes; return the events they complete, in order."""

    def flush(self) -> list[WireEvent]:
        """The line fell silent: report what is left over as incomplete."""

    def reset(self) -> None:
        """Forget any partial frame (after a reconnection)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Port:
    """A transport with the clock its bytes are stamped by (a replay brings its own)."""

    transport: Transport
    clock: Clock
