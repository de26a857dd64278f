"""What the bench hears: one stroke for taken, two for a measurand done, three for refused.

Terminals merge bell characters that come at once, so the strokes are spread over
time and struck from the loop that runs anyway; nothing waits for them.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Iterable

from gaugelink.capture.acts import Act, Completed, GaugeDone, Halted, Refused, Taken, Undone
from gaugelink.cli.output import beep

STROKE_S = 0.22
TAKEN, DONE, REFUSED = 1, 2, 3


def strokes_for(acts: Iterable[Act]) -> int:
    """Return how many strokes a step of the job is worth; 0 for silence."""
    strokes = 0
    for act in acts:
        match act:
            case Refused() | Halted():
                return REFUSED
            case Completed() | GaugeDone() | Undone():
                strokes = max(strokes, DONE)
            case Taken():
                strokes = max(strokes, TAKEN)
    return strokes


class Bell:
    """Strikes the terminal bell on stderr.

    Args:
        enabled: False keeps silent.
    """

    def __init__(self, *, enabled: bool = True) -> None:
        self._enabled = enabled
        self._due: deque[float] = deque()

    def ring(self, strokes: int) -> None:
        """Begin so many strokes; what was still due of an earlier ring is dropped."""
        now_s = time.monotonic()
        self._due = deque(now_s + i * STROKE_S for i in range(strokes))
        self.strike()

    def strike(self) -> None:
        """Strike what is due; called whenever the loop comes by."""
        if self._due and time.monotonic() >= self._due[0]:
            self._due.popleft()
            if self._enabled:
                beep()
