"""Ctrl-C, or the end of the terminal, while gauges are read: what was read is told before the end.

An exception at any point loses what lies between the port and the person just then: bytes
that are recorded and not shown, an event that is kept without what the job made of it. So a
stop is only noted, and who reads looks for it between two reads.
"""

from __future__ import annotations

import signal
import time
from types import FrameType, TracebackType
from typing import Any, Self, final

# Somebody who asks again after that long is not heard: something hangs. Two presses at once
# are one.
HANGS_S = 1.0


@final
class StopKey:
    """Notes Ctrl-C, a termination or the end of the terminal for those who read gauges.

    A context manager. Who was started to outlive the terminal, as by nohup, does.

    Until ``hold`` is called, and once more where the first time is not obeyed, both
    interrupt at once as ever: a port that cannot be opened must not hold anybody up.
    """

    def __init__(self) -> None:
        self._held = False
        self._asked_s: float | None = None
        self._before: dict[signal.Signals, Any] = {}

    def is_asked(self) -> bool:
        """Tell whether reading is to end."""
        return self._asked_s is not None

    def hold(self) -> None:
        """Only note a stop from now on: somebody looks for it."""
        self._held = True

    def __enter__(self) -> Self:
        hang_up = getattr(signal, "SIGHUP", None)  # Windows has none
        heeded = () if hang_up is None or _is_ignored(hang_up) else (hang_up,)
        for number in (signal.SIGINT, signal.SIGTERM, *heeded):
            self._before[number] = signal.signal(number, self._note)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        for number, handler in self._before.items():
            signal.signal(number, handler)

    def _note(self, number: int, frame: FrameType | None) -> None:
        now_s = time.monotonic()
        hangs = self._asked_s is not None and now_s - self._asked_s > HANGS_S
        if hangs or not self._held:
            raise KeyboardInterrupt
        if self._asked_s is None:
            self._asked_s = now_s


def _is_ignored(number: signal.Signals) -> bool:
    return signal.getsignal(number) is signal.SIG_IGN
