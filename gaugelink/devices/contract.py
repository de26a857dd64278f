"""The two contracts of the device layer: a transport does I/O, a decoder does none.

With a transport goes the clock that stamps its bytes. Replays, simulations and tests bring
one that stands still until their transport moves it: stamps are then the recorded times
exactly, however fast the machine is, and two runs agree.

A transport that can end (a replay, a simulation, a closed standard input) has one property
more than the contract, ``ended``; a port never ends.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Protocol

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


class Clock(Protocol):
    """A monotonic clock in seconds."""

    def now_s(self) -> float:
        """Seconds since some fixed moment."""


class SystemClock:
    """The machine's own monotonic clock."""

    now_s = staticmethod(time.monotonic)  # several times a line: no call more than needed


def has_ended(transport: Transport) -> bool:
    """Tell whether ``transport`` can bring nothing more; always false for a port."""
    return bool(getattr(transport, "ended", False))


class VirtualClock:
    """A clock in seconds from 0 that moves only when it is told to.

    Args:
        pace: machine seconds slept for each virtual second; 1 is real time,
            0.5 twice as fast, 0 does not wait at all.

    Raises:
        ValueError: a negative pace.
    """

    def __init__(self, *, pace: float = 0.0) -> None:
        if not pace >= 0.0:
            raise ValueError(f"pace must not be negative, got {pace!r}")
        self.pace = pace
        self._now_s = 0.0

    def now_s(self) -> float:
        """Return the virtual time in seconds."""
        return self._now_s

    def advance_to(self, moment_s: float) -> None:
        """Move forward to ``moment_s``; a moment that has passed changes nothing."""
        ahead_s = moment_s - self._now_s
        if ahead_s <= 0.0:
            return
        if self.pace > 0.0:
            time.sleep(ahead_s * self.pace)
        self._now_s = moment_s

    def advance(self, duration_s: float) -> None:
        """Move forward by ``duration_s`` seconds."""
        self.advance_to(self._now_s + duration_s)


def pause(clock: Clock, duration_s: float) -> None:
    """Let ``duration_s`` seconds pass: a virtual clock is moved, any other is slept through."""
    if duration_s <= 0.0:
        return
    if isinstance(clock, VirtualClock):
        clock.advance(duration_s)
    else:
        time.sleep(duration_s)
