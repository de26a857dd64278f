"""A bridge in a simulated chip: the firmware, a script of pin changes, a pseudo-terminal."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

LONGEST_S = 40  # of real time; the program ends itself then, whatever happens to us
IDLE_US = 60_000  # between bursts: longer than any silence that ends one


@dataclass(slots=True, kw_only=True)
class SimulatedBridge:
    """The running program; ``pty`` is the serial port of the bridge."""

    pty: str
    process: subprocess.Popen[str]

    def switch_on(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write("\n")
        self.process.stdin.flush()

    def switch_off(self) -> str:
        """End the program; return what it saw of the request line and of its script."""
        return self.process.communicate(timeout=10)[0].strip()


@contextmanager
def simulated_bridge(
    host: Path, firmware: Path, steps: Sequence[str], folder: Path
) -> Iterator[SimulatedBridge]:
    """Start the program; the chip is held until it is switched on."""
    script = folder / "script.txt"
    script.write_text("\n".join(steps) + "\n", encoding="ascii")
    process = subprocess.Popen(
        [
            host,
            firmware,
            script,
            str(LONGEST_S),
            "8000000" if "8-mhz" in firmware.name else "16000000",
        ],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        yield SimulatedBridge(pty=process.stdout.readline().strip(), process=process)
    finally:
        if process.poll() is None:
            process.kill()
            process.communicate()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """How a gauge drives its lines.

    ``low_us`` and ``high_us`` are the phases of its clock; ``data_late_us`` is how long
    after the falling edge DATA changes. ``inverted``: behind a transistor a line.
    """

    low_us: int
    high_us: int
    data_late_us: int = 0
    inverted: bool = False

    def idle(self, us: int = IDLE_US) -> list[str]:
        return [self.clock(1), self.data(1), f"wait {us}"]

    def clock(self, level: int) -> str:
        return f"clock {level ^ self.inverted}"

    def data(self, level: int) -> str:
        return f"data {level ^ self.inverted}"

    def pulse(self, bit: int) -> list[str]:
        fall = [self.data(bit), self.clock(0)]
        if self.data_late_us:
            fall = [self.clock(0), f"wait {self.data_late_us}", self.data(bit)]
        return [*fall, f"wait {self.low_us}", self.clock(1), f"wait {self.high_us}"]

    def glitch(self, us: int) -> list[str]:
        return [self.clock(0), f"wait {us}", self.clock(1), f"wait {self.high_us}"]

    def burst(self, bits: Sequence[int], *, glitch_us: int = 0) -> list[str]:
        """Clock out a burst, with a glitch in the middle if asked; DATA floats up at the end."""
        half = len(bits) // 2
        first = [step for bit in bits[:half] for step in self.pulse(bit)]
        noise = self.glitch(glitch_us) if glitch_us else []
        rest = [step for bit in bits[half:] for step in self.pulse(bit)]
        return [*first, *noise, *rest, self.data(1)]
