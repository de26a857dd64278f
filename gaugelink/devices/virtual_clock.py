"""Time that belongs to the bytes: the clock of replays, simulations and tests.

A virtual clock stands still until its transport moves it. Stamps are therefore
the recorded times exactly, however fast the machine is, and two runs agree.
"""

from __future__ import annotations

import time

from gaugelink.devices.clock import Clock


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
