"""A person who does what ``gaugelink measure`` asks, and whose hands hold the gauges.

Each line that gaugelink says goes on to the console at once, where the host notes how far its log
of the disk had come. Runs inside the virtual machine, with python alone.
"""

from __future__ import annotations

import os
import re
import select
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

SIZES_MM = {
    "zero": 0.0,
    "depth": 1.64,
    "lid": 0.31,
    "arbor": 3.7,
    "found thickness": 0.13,
    "found height": 1.2,
}
QUIET_S = 0.4  # a person reads before acting; also lets what belongs together come together
PATIENCE_S = 20.0  # then a press is taken for lost
SPOKEN = re.compile(r"(?P<kind>caliper|micrometer)(?P<mark>[>:]) +(?P<text>.*)")
AGAIN = ("taken", "refused", "not a reading", "once", "checked")
_console = threading.Lock()


def tell(tag: str, text: str) -> None:
    """Write a line to the console: whose it is, the machine's seconds, the text."""
    with _console:
        sys.stdout.write(f"@{tag} {time.monotonic():.2f} {text}\n")
        sys.stdout.flush()


@dataclass
class Hand:
    """One gauge: how it sends a value in mm, and what is to be measured with it now."""

    send: Callable[[float], None]
    step_mm: float
    wanted: str = ""
    due_s: float = float("inf")
    is_away: bool = False
    sent: int = 0

    def press(self) -> str:
        """Send the next value, each a step beside the last; return what was sent."""
        self.sent += 1
        spread = 0 if self.wanted == "zero" else self.sent % 3 * self.step_mm
        value_mm = SIZES_MM[self.wanted] + spread
        self.send(value_mm)
        return f"{self.wanted} {value_mm:.3f}"


@dataclass
class Sitting:
    """One run of ``gaugelink measure`` and who sits before it.

    Args:
        tag: names it on the console.
        command: the run.
        hands: by the kind of gauge.
        after: what happens after so many readings with a kind of gauge; it returns the kind that
            is away from then on until gaugelink says that it is back, or an empty text.
        upon: what happens as soon as a line has these words.
        environment: of the run.
    """

    tag: str
    command: Sequence[str]
    hands: Mapping[str, Hand]
    after: Mapping[tuple[str, int], Callable[[Sitting], str]] = field(default_factory=dict)
    upon: Mapping[str, Callable[[], None]] = field(default_factory=dict)
    environment: Mapping[str, str] = field(default_factory=dict)
    taken: Counter[str] = field(default_factory=Counter)
    process: subprocess.Popen[bytes] | None = None

    @contextmanager
    def halted(self) -> Iterator[None]:
        """Stop the run for a while, so that it does not see what happens meanwhile."""
        assert self.process
        self.process.send_signal(signal.SIGSTOP)
        try:
            yield
        finally:
            self.process.send_signal(signal.SIGCONT)

    def run(self) -> None:
        """Sit until the run ends."""
        self.process = process = subprocess.Popen(
            self.command,
            stdin=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            env={**os.environ, **self.environment},
        )
        assert process.stderr is not None
        pending = b""
        while True:
            if not select.select([process.stderr], (), (), QUIET_S)[0]:
                self._act()
                continue
            data = os.read(process.stderr.fileno(), 65536)
            *lines, pending = (pending + data).split(b"\n")
            for line in lines:
                self._hear(line.decode())
            if not data:
                break
        tell(self.tag, f"EXIT {process.wait()} after {self.taken.total()} taken")

    def _act(self) -> None:
        """Press one gauge that is due: one hand at a time."""
        now_s = time.monotonic()
        for kind, hand in self.hands.items():
            if hand.due_s <= now_s and hand.wanted and not hand.is_away:
                hand.due_s = now_s + PATIENCE_S
                tell(self.tag, f"SENT {kind} {hand.press()}")
                return

    def _hear(self, line: str) -> None:
        tell(self.tag, line)
        for words, happens in self.upon.items():
            if words in line:
                happens()
        if not (spoken := SPOKEN.match(line)):
            return
        hand, text = self.hands[spoken["kind"]], spoken["text"]
        if spoken["mark"] == ">":
            hand.wanted = _asked_for(text)
            hand.due_s = 0
        elif text.startswith(AGAIN):
            hand.due_s = 0
            if text.startswith("taken") and hand.wanted == "zero":
                hand.wanted = ""  # until the next is asked for
        elif text.endswith("is back."):
            hand.is_away, hand.due_s = False, 0
        if text.startswith("taken"):
            self._count(spoken["kind"])

    def _count(self, kind: str) -> None:
        self.taken[kind] += 1
        if happens := self.after.get((kind, self.taken[kind])):
            tell(self.tag, f"EVENT {happens.__name__}")
            if away := happens(self):
                self.hands[away].is_away = True


def _asked_for(prompt: str) -> str:
    if prompt.startswith("Last zero seen"):
        return ""
    if "zero reading" in prompt:
        return "zero"
    return next((name for name in SIZES_MM if prompt.startswith(f"{name}:")), "")
