"""Where a gauge's time stamps come from."""

from __future__ import annotations

import time
from typing import Protocol


class Clock(Protocol):
    """A monotonic clock in seconds."""

    def now_s(self) -> float:
        """Seconds since some fixed moment."""


class SystemClock:
    """The machine's own monotonic clock."""

    def now_s(self) -> float:
        """Seconds on the machine's monotonic clock."""
        return time.monotonic()
