"""From the last byte on the wire to an acknowledged, durable reading, on a pseudo-terminal.

Run it by hand: ``python tests/benchmarks/bench_latency.py [READINGS [FOLDER]]``. A process of its
own plays a gauge with a data button: it takes the time on the monotonic clock, which both
processes share, and writes the last byte of a line. The reading then goes through all
that ``gaugelink measure`` puts together: serial port, decoder, session, journal, and the
acknowledgement is the moment at which the watcher is told. After each reading one bare
row is stored with SQLite in the same folder and as durably, which gives the ratio.
Only ratios of one run mean anything; the sizes are invented.
"""

from __future__ import annotations

import math
import os
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from gaugelink.assembly.reviewing import review_series
from gaugelink.capture.acts import Act, Taken
from gaugelink.capture.plan import JobSetup, Plan, make_plan
from gaugelink.capture.runner import FanOut, Polled, Runner, Watcher, listen_in_threads
from gaugelink.capture.session import CaptureSession
from gaugelink.devices.registry import open_gauge
from gaugelink.jobbook.journal import JobKeeper, Journal
from gaugelink.model import GaugeEvent

READINGS = 600
PER_JOB = 50  # readings of one measurand in a job; a bench never takes more
PAUSE_S = 0.02  # between an acknowledgement and the next press: the reader waits again

# Plays the gauge: for each number on standard input, a pause, the line, the time of its end.
GAUGE = f"""
import os, sys, time
port = int(sys.argv[1])
for line in sys.stdin:
    time.sleep({PAUSE_S})
    data = b"+%8.2f, MM\\r" % float(line)
    os.write(port, data[:-1])
    sent_s = time.monotonic()
    os.write(port, data[-1:])
    print(repr(sent_s), flush=True)
"""


class GaugeProcess:
    """The gauge at the far end of a pseudo-terminal."""

    def __init__(self, link: Path) -> None:
        self.master, self._slave = os.openpty()
        link.symlink_to(os.ttyname(self._slave))
        self._process = subprocess.Popen(
            [sys.executable, "-c", GAUGE, str(self.master)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            pass_fds=[self.master],
            text=True,
        )

    def press(self, value_mm: float) -> None:
        assert self._process.stdin is not None
        self._process.stdin.write(f"{value_mm}\n")
        self._process.stdin.flush()

    def sent_s(self) -> float:
        """Return when the last byte of the last press was written."""
        assert self._process.stdout is not None
        return float(self._process.stdout.readline())

    def close(self) -> None:
        self._process.communicate()
        os.close(self.master)
        os.close(self._slave)


class BareStore:
    """One row at a time into SQLite, as durable as the journal and with nothing around it."""

    def __init__(self, path: Path) -> None:
        self._connection = sqlite3.connect(path, isolation_level=None)
        for setting in ("journal_mode = WAL", "synchronous = FULL", "fullfsync = ON"):
            self._connection.execute(f"PRAGMA {setting}")
        self._connection.execute("CREATE TABLE row (number INTEGER PRIMARY KEY, detail TEXT)")

    def insert_s(self) -> float:
        """Store one row; return how long it took until it was durable, in s."""
        begun_s = time.monotonic()
        self._connection.execute("INSERT INTO row (detail) VALUES (?)", ("x" * 200,))
        return time.monotonic() - begun_s

    def close(self) -> None:
        self._connection.close()


@dataclass(slots=True)
class Stopwatch:
    """The watcher of the job: takes the time of each acknowledgement and orders the next press."""

    gauge: GaugeProcess
    store: BareStore
    wanted: int = 0  # readings in all, by the end of the present job
    acknowledged_s: list[float] = field(default_factory=list)
    stored_s: list[float] = field(default_factory=list)

    @property
    def is_full(self) -> bool:
        """True when the present job has its readings."""
        return len(self.acknowledged_s) >= self.wanted

    def heard(self, event: GaugeEvent) -> None:
        """Nothing to show."""

    def acted(self, acts: Sequence[Act]) -> None:
        """Take the time; store a bare row; press again, at a size that is no repeat."""
        now_s = time.monotonic()
        for act in acts:
            if isinstance(act, Taken):
                latency_s = now_s - self.gauge.sent_s()
                if not act.is_zero:
                    self.acknowledged_s.append(latency_s)
                    self.stored_s.append(self.store.insert_s())
                if not self.is_full:
                    self.gauge.press(11.50 + 0.01 * (len(self.acknowledged_s) % 5))

    def idle(self) -> None:
        """Nothing to redraw."""


def plan() -> Plan:
    """A job of one measurand that wants many readings."""
    (bore, *_) = make_plan().steps
    return Plan(steps=(replace(bore, n_wanted=PER_JOB),))


Beside = Callable[[CaptureSession], Sequence[Watcher]]


def nobody(session: CaptureSession) -> Sequence[Watcher]:
    """Show a session on no further screen."""
    return ()


def run_job(journal: Journal, address: str, watch: Stopwatch, beside: Beside) -> None:
    """Take ``PER_JOB`` readings into a job of its own, as a sitting at the bench does."""
    watch.wanted += PER_JOB
    job_id = journal.create_job(JobSetup(title="latency", plan=plan()))
    with open_gauge(address) as gauge:
        journal.add_gauge(job_id, gauge.info)
        session = CaptureSession(plan(), [gauge.info], review_series)
        told = FanOut(watch, beside(session), print)
        runner = Runner(session, JobKeeper(journal=journal, job_id=job_id), told)
        watch.gauge.press(0.0)
        with listen_in_threads([gauge]) as heard:
            runner.run(until_full(heard, watch))


def until_full(heard: Iterable[Polled | None], watch: Stopwatch) -> Iterator[Polled | None]:
    """Hand on what is heard; leave before the closing zero, which has to wait 3 s."""
    for item in heard:
        yield item
        if watch.is_full:
            return


def measure(readings: int, folder: Path, beside: Beside = nobody) -> Stopwatch:
    """Run jobs until there are ``readings``, or up to a job more, with screens ``beside``."""
    link = folder / "ttyGAUGE"
    watch = Stopwatch(gauge=GaugeProcess(link), store=BareStore(folder / "bare.sqlite"))
    with Journal.open(folder / "journal.sqlite") as journal:
        while len(watch.acknowledged_s) < readings:
            run_job(
                journal,
                f"serial:{link}?format=line-9600-8N1-unit&kind=caliper&sends=button",
                watch,
                beside,
            )
    watch.gauge.close()
    watch.store.close()
    return watch


def quantile(values: Sequence[float], share: float) -> float:
    """Return the smallest value that at least ``share`` of them do not exceed."""
    return sorted(values)[math.ceil(share * len(values)) - 1]


def report(watch: Stopwatch) -> str:
    lines = [f"{len(watch.acknowledged_s)} readings{'':14}p50 ms   p99 ms   worst ms"]
    for name, values in (
        ("acknowledged and durable", watch.acknowledged_s),
        ("one bare SQLite insert", watch.stored_s),
    ):
        row = (quantile(values, 0.5), quantile(values, 0.99), max(values))
        lines.append(f"{name:26}" + "".join(f"{1000 * value:9.2f}" for value in row))
    ratios = [
        quantile(watch.acknowledged_s, share) / quantile(watch.stored_s, share)
        for share in (0.5, 0.99)
    ]
    lines.append(f"{'ratio':26}" + "".join(f"{ratio:9.2f}" for ratio in ratios))
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    # The folder of the journal, on a disk: some systems keep /tmp in memory.
    with tempfile.TemporaryDirectory(dir=sys.argv[2] if len(sys.argv) > 2 else None) as scratch:
        wanted = int(sys.argv[1]) if len(sys.argv) > 1 else READINGS
        sys.stdout.write(report(measure(wanted, Path(scratch))))
