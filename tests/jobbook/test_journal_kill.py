from __future__ import annotations

import os
import random
import select
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from itertools import count
from pathlib import Path

import pytest
from jobbook_samples import begin

from gaugelink.capture.acts import Taken
from gaugelink.jobbook import Journal
from gaugelink.model import Fault, Reading

if not hasattr(os, "openpty"):
    pytest.skip("this system has no pseudo terminals", allow_module_level=True)

CHILD = Path(__file__).with_name("journal_child.py")
N_KILLS = 30
IN_FLIGHT = 6  # lines sent and not yet acknowledged: the child is always at work
NOISE = b"\xff#?\r"


class Bench:
    """The child at one end of a pseudo terminal, and the gauge, played here, at the other."""

    def __init__(self, path, job_id):
        self._gauge, self._port = os.openpty()
        command = [sys.executable, CHILD, os.ttyname(self._port), path, str(job_id)]
        self.child = subprocess.Popen(command, stdout=subprocess.PIPE)
        self._answers = b""
        self.sent: list[int] = []

    def send(self, number):
        self.sent.append(number)
        noise = NOISE if number % 7 == 0 else b""
        os.write(self._gauge, noise + b"+%8.4f, MM\r\n" % (number / 10_000))

    def answer(self):
        """The next whole line from the child; None once it is dead and all is read."""
        pipe = self.child.stdout
        while b"\n" not in self._answers:
            assert select.select([pipe], [], [], 30)[0], "the child neither answers nor ends"
            data = os.read(pipe.fileno(), 4096)
            if not data:
                return None
            self._answers += data
        line, _, self._answers = self._answers.partition(b"\n")
        return line.decode()

    def close(self):
        self.child.kill()
        self.child.wait()
        self.child.stdout.close()
        os.close(self._gauge)
        os.close(self._port)


def run_until_killed(bench, numbers, rng):
    """Send numbers until the moment of the kill; return what was acknowledged."""
    assert bench.answer() == "ready"
    for _ in range(IN_FLIGHT):
        bench.send(next(numbers))
    acknowledged = []
    for _ in range(rng.randrange(1, 20)):
        acknowledged.append(bench.answer())
        bench.send(next(numbers))
    time.sleep(rng.uniform(0, 0.004))  # lands anywhere in the child's cycle
    bench.child.kill()
    while (text := bench.answer()) is not None:
        acknowledged.append(text)
    return acknowledged


def check(path, job_id, acknowledged, sent):
    """Nothing acknowledged is missing, nor any event before it, and nothing is invented."""
    with Journal.open(path) as journal:
        taken = [act.reading.displayed for act in journal.load(job_id).acts]
        bodies = [e.item.body for e in journal.events(job_id) if not isinstance(e.item, Taken)]
    assert set(acknowledged) <= set(taken)
    assert [b.displayed for b in bodies if isinstance(b, Reading)] == taken
    assert len(taken) == len(set(taken))
    assert set(taken) <= {f"{number / 10_000:.4f}" for number in sent}
    faults = [body.raw for body in bodies if isinstance(body, Fault)]
    n_due = sum(round(float(text) * 10_000) % 7 == 0 for text in taken)
    assert faults == [NOISE] * len(faults)
    assert len(faults) >= n_due
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_kill_at_any_moment_loses_no_acknowledged_reading(tmp_path):
    path = tmp_path / "journal.sqlite"
    with Journal.open(path) as journal:
        job_id = begin(journal)
    rng, numbers = random.Random(20), count(1)
    acknowledged, sent = [], []
    for _ in range(N_KILLS):
        bench = Bench(path, job_id)
        try:
            acknowledged += run_until_killed(bench, numbers, rng)
        finally:
            bench.close()
        assert bench.child.returncode == -9  # it was at work until then
        sent += bench.sent
        check(path, job_id, acknowledged, sent)
    assert len(acknowledged) >= 5 * N_KILLS
