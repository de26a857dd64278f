"""What is heard at the bench: a rhythm for each signal, struck on the terminal's bell.

A terminal has one bell, so the signals differ by their number of strokes and by the gaps
between them, never by pitch. Terminals merge strokes that come at once: a gap is counted from the
stroke that was struck, and two rhythms are parted by a rest. They are struck from the loop that
runs anyway; nothing waits for them.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Iterable, Sequence

from gaugelink.capture.acts import Act
from gaugelink.capture.signals import Signal, told_of, told_of_event
from gaugelink.cli.output import beep, say
from gaugelink.model import GaugeEvent

SHORT_S, LONG_S = 0.22, 0.6  # gaps within a rhythm; apart by more than the loop is ever late
REST_S = 1.1  # between two rhythms
LATE_S = 4.0  # a rhythm that must wait longer would be taken for what happened since
# The gaps between the strokes; every way to strike once, twice or three times is used once.
RHYTHMS: dict[Signal, tuple[float, ...]] = {
    Signal.TAKEN: (),
    Signal.DONE: (SHORT_S,),
    Signal.UNDONE: (LONG_S,),
    Signal.DOUBTFUL: (SHORT_S, LONG_S),
    Signal.MORE: (LONG_S, SHORT_S),
    Signal.REFUSED: (SHORT_S, SHORT_S),
    Signal.UNPLUGGED: (LONG_S, LONG_S),
}
_MEANINGS = {
    Signal.TAKEN: "a reading is taken",
    Signal.DONE: "done: a measurand has all its readings, or the gauge its last zero",
    Signal.UNDONE: "taken back",
    Signal.DOUBTFUL: "taken, but doubtful: look at the screen",
    Signal.MORE: "taken, and more readings are wanted",
    Signal.REFUSED: "refused: look at the screen",
    Signal.UNPLUGGED: "a gauge is unplugged",
}


class Bell:
    """Strikes the terminal bell on stderr.

    Args:
        enabled: False keeps silent.
    """

    def __init__(self, *, enabled: bool = True) -> None:
        self._enabled = enabled
        self._waiting: deque[tuple[float, Signal]] = deque()
        self._gaps: deque[float] | None = None  # of the rhythm that is struck
        self._due_s = 0.0

    def acted(self, acts: Sequence[Act]) -> None:
        """Sound what the job did."""
        self._ring(told.signal for told in told_of(acts))

    def heard(self, event: GaugeEvent) -> None:
        """Sound that a gauge is gone."""
        told = told_of_event(event)
        self._ring([told.signal] if told else [])

    def strike(self) -> None:
        """Strike what is due; called whenever the loop comes by."""
        now_s = time.monotonic()
        if not self._begin(now_s) or now_s < self._due_s:
            return
        beep()
        if self._gaps:
            self._due_s = now_s + self._gaps.popleft()
        else:
            self._gaps, self._due_s = None, now_s + REST_S

    def play_out(self) -> None:
        """Strike all that is due, and wait for it."""
        while self._begin(time.monotonic()):
            time.sleep(max(0.0, self._due_s - time.monotonic()))
            self.strike()

    def _ring(self, signals: Iterable[Signal]) -> None:
        now_s = time.monotonic()
        if self._enabled:
            self._waiting.extend((now_s, signal) for signal in signals if signal in RHYTHMS)
        self.strike()

    def _begin(self, now_s: float) -> bool:
        """Take the next rhythm up when none is struck; tell whether there is one."""
        while self._gaps is None and self._waiting:
            asked_s, signal = self._waiting.popleft()
            if max(now_s, self._due_s) - asked_s <= LATE_S:
                self._gaps = deque(RHYTHMS[signal])
        return self._gaps is not None


def try_sounds() -> None:
    """Strike each rhythm with its name."""
    say("Each signal has its own rhythm. If you hear nothing, switch on the bell of your terminal.")
    for signal, gaps in RHYTHMS.items():
        strokes = "*" + "".join(" *" if gap == SHORT_S else "    *" for gap in gaps)
        say(f"  {strokes:<14}{_MEANINGS[signal]}")
        bell = Bell()
        bell._ring([signal])
        bell.play_out()
        time.sleep(REST_S)
