"""Kills a program that captures, imports, migrates, backs up or restores, at random moments.

Run it by hand: ``PYTHONPATH=tests python tests/jobbook/crash_campaign.py [--n 200]``. Each
trial is a process of its own that says when it has begun, and each thing that is done;
then it is killed. Afterwards the journal must open, be sound, and hold all that was said.
What a killed trial leaves is what the next one starts from.
"""

from __future__ import annotations

import argparse
import os
import random
import select
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from crash_work import KINDS, Bench

LONGEST_S = 0.15  # beyond this after the first word, a trial has usually ended


@dataclass(kw_only=True)
class Tally:
    """How many trials there were, how many were killed at work, what was said in them."""

    trials: int = 0
    killed: int = 0
    said: int = 0


def trial(bench: Bench, rng: random.Random, tally: Tally) -> None:
    """Let the work begin, kill it after a while, and check what is left."""
    bench.prepare()
    ours, theirs = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(ours)
        _be_the_worker(bench, theirs)
    os.close(theirs)
    try:
        said = list(_heard(ours, pid, rng.uniform(0, LONGEST_S)))
    finally:
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
        os.close(ours)
    assert os.waitstatus_to_exitcode(status) in (0, -signal.SIGKILL)
    tally.trials += 1
    tally.killed += os.waitstatus_to_exitcode(status) == -signal.SIGKILL
    tally.said += len(said)
    bench.check(said)


def _be_the_worker(bench: Bench, answers: int) -> None:
    code = 1
    try:
        bench.work(lambda text: os.write(answers, f"{text}\n".encode()))
        code = 0
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(code)


def _heard(ours: int, pid: int, patience_s: float) -> Iterator[str]:
    """Kill the worker so long after its first word; go through all it said after that."""
    heard = b""
    while b"\n" not in heard:
        ready, _, _ = select.select([ours], [], [], 30)
        assert ready, "the worker neither begins nor ends"
        data = os.read(ours, 4096)
        assert data, "the worker ended before it began"
        heard += data
    time.sleep(patience_s)
    os.kill(pid, signal.SIGKILL)
    while data := os.read(ours, 65536):
        heard += data
    yield from heard.decode().splitlines()[1:]


def run(kind: type[Bench], n: int, seed: int, folder: Path) -> Tally:
    """Run ``n`` trials of one kind of work in a folder of its own."""
    home = folder / kind.__name__
    home.mkdir()
    bench, tally, rng = kind(home), Tally(), random.Random(f"{seed} {kind.__name__}")
    for _ in range(n):
        trial(bench, rng, tally)
    return tally


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--n", type=int, default=200, help="trials of each kind of work")
    options.add_argument("--seed", type=int, default=1)
    chosen = options.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="crash-campaign-"))
    sys.stdout.write(f"{'work':10}{'trials':>8}{'killed at work':>16}{'said and kept':>15}\n")
    try:
        for kind in KINDS:
            tally = run(kind, chosen.n, chosen.seed, folder)
            row = f"{kind.__name__:10}{tally.trials:8}{tally.killed:16}{tally.said:15}\n"
            sys.stdout.write(row)
            sys.stdout.flush()
    finally:
        shutil.rmtree(folder)
    sys.stdout.write("nothing that was said was lost, and every journal opened again\n")


if __name__ == "__main__":
    main()
