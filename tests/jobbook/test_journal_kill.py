from __future__ import annotations

import os
import random
import select
import signal
import sqlite3
import time
import traceback
from contextlib import closing
from itertools import count

import pytest
from jobbook_samples import begin, stored
from journal_child import take_readings

from gaugelink.capture.acts import Taken
from gaugelink.jobbook.journal import Journal
from gaugelink.model import Fault, GaugeEvent, Reading

pytestmark = pytest.mark.campaign

if not hasattr(os, "openpty"):
    pytest.skip("this system has no pseudo terminals", allow_module_level=True)

N_KILLS = 30
IN_FLIGHT = 6  # lines sent and not yet acknowledged: the child is always at work
NOISE = b"\xff#?\r"


class Bench:
    """The child at one end of a pseudo terminal, and the gauge, played here, at the other."""

    def __init__(self, path, job_id):
        self._gauge, self._port = os.openpty()
        self._answers, answers = os.pipe()
        self._heard = b""
        self.sent: list[int] = []
        self.exit_status = 0
        # A fork, because thirty interpreters would take longer to start than to kill.
        self._pid = os.fork()
        if self._pid == 0:
            self._be_the_child(path, job_id, answers)
        os.close(answers)

    def _be_the_child(self, path, job_id, answers):
        try:
            device = os.ttyname(self._port)
            take_readings(device, path, job_id, lambda t: os.write(answers, f"{t}\n".encode()))
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(1)

    def send(self, number):
        self.sent.append(number)
        noise = NOISE if number % 7 == 0 else b""
        os.write(self._gauge, noise + b"+%8.4f, MM\r\n" % (number / 10_000))

    def answer(self):
        """The next whole line from the child; None once it is dead and all is read."""
        while b"\n" not in self._heard:
            ready, _, _ = select.select([self._answers], [], [], 30)
            assert ready, "the child neither answers nor ends"
            data = os.read(self._answers, 4096)
            if not data:
                return None
            self._heard += data
        line, _, self._heard = self._heard.partition(b"\n")
        return line.decode()

    def kill(self):
        os.kill(self._pid, signal.SIGKILL)

    def close(self):
        self.kill()
        _, self.exit_status = os.waitpid(self._pid, 0)
        for end in (self._gauge, self._port, self._answers):
            os.close(end)


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
    bench.kill()
    while (text := bench.answer()) is not None:
        acknowledged.append(text)
    return acknowledged


def check(path, job_id, acknowledged, sent):
    """Nothing acknowledged is missing, nor any event before it, and nothing is invented."""
    with Journal.open(path) as journal:
        acts = journal.load(job_id).acts
        items = stored(journal, job_id)
    taken = [act.reading.displayed for act in acts if isinstance(act, Taken)]
    bodies = [item.body for item in items if isinstance(item, GaugeEvent)]
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


# Newer Pythons warn of a fork beside threads; one of another test may still be ending.
@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
def test_a_kill_at_any_moment_loses_no_acknowledged_reading(tmp_path):
    path = tmp_path / "journal.sqlite"
    with Journal.open(path) as journal:
        job_id = begin(journal)
    rng, numbers = random.Random(20), count(1)
    acknowledged: list[str] = []
    sent: list[int] = []
    for _ in range(N_KILLS):
        bench = Bench(path, job_id)
        try:
            acknowledged += run_until_killed(bench, numbers, rng)
        finally:
            bench.close()
        assert os.waitstatus_to_exitcode(bench.exit_status) == -signal.SIGKILL  # not by itself
        sent += bench.sent
        check(path, job_id, acknowledged, sent)
    assert len(acknowledged) >= 5 * N_KILLS
