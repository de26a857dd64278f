"""Start to exit of the command line over a bare interpreter.

Run it by hand: ``python tests/benchmarks/bench_startup.py [ROUNDS]``. The commands are
run turn about, so that a busy machine slows all of them alike. Only ratios mean anything.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence

ROUNDS = 21
BARE = "python -c pass"
AIMS = {"gaugelink --help": 6, "size --bore 11": 30, "the same, 1000 draws": 20}
COMMANDS: Mapping[str, Sequence[str]] = {
    BARE: ("-c", "pass"),
    "gaugelink --help": ("-m", "gaugelink", "--help"),
    "size --bore 11": ("-m", "gaugelink", "size", "--bore", "11"),
    "the same, 1000 draws": ("-m", "gaugelink", "size", "--bore", "11", "--draws", "1000"),
}


def seconds(arguments: Sequence[str], environment: Mapping[str, str]) -> float:
    """Return how long one run took, in s."""
    begun_s = time.perf_counter()
    subprocess.run(
        [sys.executable, *arguments],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        check=True,
        env=dict(environment),
    )
    return time.perf_counter() - begun_s


def timings(rounds: int) -> dict[str, list[float]]:
    """Run every command ``rounds`` times, turn about, after one round that fills the caches."""
    took: dict[str, list[float]] = {name: [] for name in COMMANDS}
    with tempfile.TemporaryDirectory() as home:
        environment = {**os.environ, "GAUGELINK_HOME": home}
        # An installed package lies compiled; where writing that is forbidden, every run compiles.
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        for number in range(rounds + 1):
            for name, arguments in COMMANDS.items():
                duration_s = seconds(arguments, environment)
                if number:
                    took[name].append(duration_s)
    return took


def report(took: Mapping[str, Sequence[float]]) -> str:
    """Lay out minimum and median of each command, in ms and over the bare interpreter.

    The ratio of the median is the median over the rounds: the runs of a round are neighbours.
    """
    bare = took[BARE]
    lines = [f"{len(bare):3} rounds{'':19}min ms  median ms  min ratio  median ratio  aim"]
    for name, durations in took.items():
        ratios = [a / b for a, b in zip(durations, bare, strict=True)]
        lines.append(
            f"{name:26}{1000 * min(durations):9.1f}{1000 * statistics.median(durations):11.1f}"
            f"{min(durations) / min(bare):11.2f}{statistics.median(ratios):14.2f}"
            f"{AIMS.get(name, ''):>5}"
        )
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.stdout.write(report(timings(int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS)))
