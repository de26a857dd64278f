"""Four gauges that stream: what reading, judging and journaling them costs in CPU time.

Run it by hand: ``python tests/benchmarks/bench_stream_cpu.py [--seconds N] [--hz N]``.
Simulated gauges are written to kernel ptys by a process of their own; this one opens
them as serial ports, runs a job over them and keeps every event in a real journal.
For comparison four bare threads of the serial driver do nothing but hand the bytes to
the main thread. A job of the product has at most two gauges, so two more lanes are put
in by hand. Only the ratio means anything on another machine.
"""

from __future__ import annotations

import argparse
import os
import pty
import queue
import resource
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path

import serial

from gaugelink.capture.acts import Act, Taken
from gaugelink.capture.lane import Lane
from gaugelink.capture.plan import JobSetup, Plan, make_plan
from gaugelink.capture.progress import no_review
from gaugelink.capture.runner import FanOut, Polled, Runner, Watcher, listen_in_threads
from gaugelink.capture.session import CaptureSession
from gaugelink.devices.gauge import Gauge
from gaugelink.devices.registry import open_gauge
from gaugelink.devices.simulated import (
    Behaviour,
    Gesture,
    Move,
    encode_with_unit,
    indicate,
    sample_stream,
    walk,
)
from gaugelink.jobbook.journal import JobKeeper, Journal
from gaugelink.model import GaugeEvent

KINDS = ("caliper", "micrometer", "caliper", "micrometer")
FORMAT = "text-input"  # it has no request, so nothing but the stream is on the wire
AIM_RATIO = 2.0  # over the bare threads, both measured in this run
SETTLE_S = 1.0  # for the last bytes to arrive
ZERO = Move(measurand="zero", gesture=Gesture.CLOSED, size_mm=0.0)
WORK = {
    "caliper": Move(measurand="bore", gesture=Gesture.INSIDE_SWEEP, size_mm=11.52, times=10_000),
    "micrometer": Move(measurand="spring", gesture=Gesture.SETTLED, size_mm=0.13, times=10_000),
}


def lines(kind: str, seed: int, hz: float) -> Iterator[bytes]:
    """A gauge in use: moved, rocked and held, with noise and drift between the placings."""
    step = Decimal("0.01") if kind == "caliper" else Decimal("0.001")
    behaviour = Behaviour(
        step=step, encode=encode_with_unit, seed=str(seed), noise_mm=float(step) / 2, rate_hz=hz
    )
    legs = walk((ZERO, WORK[kind]))
    shown = indicate(sample_stream(legs, rate_hz=hz), behaviour, total_s=legs[-1].end_s)
    return (f"{each.value} mm\r\n".encode() for each in shown)


def write(masters: Sequence[int], n_frames: int, hz: float) -> None:
    """The writing process: each gauge sends at its own moment of the period."""
    streams = [lines(kind, seed, hz) for seed, kind in enumerate(KINDS)]
    print("ready", flush=True)
    sys.stdin.readline()
    begun = time.monotonic()
    for turn in range(n_frames * len(KINDS)):
        due = begun + turn / (hz * len(KINDS))
        time.sleep(max(0.0, due - time.monotonic()))
        n = turn % len(KINDS)
        os.write(masters[n], next(streams[n]))
    sys.stdin.read()  # the ports stay up until the reader has done


@dataclass(frozen=True, slots=True, kw_only=True)
class Wires:
    """Four ptys, and the process that writes to them once it is told to."""

    devices: tuple[str, ...]
    writer: subprocess.Popen[str]

    def start(self) -> None:
        self.writer.stdin.write("go\n")
        self.writer.stdin.flush()


@contextmanager
def four_wires(n_frames: int, hz: float) -> Iterator[Wires]:
    pairs = [pty.openpty() for _ in KINDS]
    masters = [master for master, _ in pairs]
    options = ["--write", *map(str, masters), "--frames", str(n_frames), "--hz", str(hz)]
    writer = subprocess.Popen(
        [sys.executable, __file__, *options],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        pass_fds=masters,
        text=True,
    )
    writer.stdout.readline()
    try:
        yield Wires(devices=tuple(os.ttyname(slave) for _, slave in pairs), writer=writer)
    finally:
        writer.communicate()
        for end in (end for pair in pairs for end in pair):
            os.close(end)


def cpu_s() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def bare(seconds: float, hz: float) -> float:
    """Return the CPU time that the serial driver and a queue take for the same bytes."""
    taken: queue.SimpleQueue[bytes] = queue.SimpleQueue()
    stop = threading.Event()

    def read(port: serial.Serial) -> None:
        while not stop.is_set():
            if data := port.read(max(1, port.in_waiting)):
                taken.put(data + port.read(port.in_waiting))

    with four_wires(round(seconds * hz), hz) as wires, ExitStack() as opened:
        ports = [
            opened.enter_context(serial.Serial(device, timeout=0.1)) for device in wires.devices
        ]
        threads = [threading.Thread(target=read, args=(port,)) for port in ports]
        for thread in threads:
            thread.start()
        wires.start()
        before_s, end_s = cpu_s(), time.monotonic() + seconds
        while (left_s := end_s - time.monotonic()) > 0.0:
            try:
                taken.get(timeout=min(0.1, left_s))
            except queue.Empty:
                continue
        used_s = cpu_s() - before_s
        stop.set()
        for thread in threads:
            thread.join()
    return used_s


class Counting:
    """A watcher that shows nothing."""

    def __init__(self) -> None:
        self.n_taken = 0

    def heard(self, event: GaugeEvent) -> None:
        """Nothing to show."""

    def acted(self, acts: Sequence[Act]) -> None:
        self.n_taken += sum(isinstance(act, Taken) for act in acts)

    def idle(self) -> None:
        """Nothing to redraw."""


def endless_plan() -> Plan:
    plan = make_plan(without=("depth", "lid", "arbor", "found_height"))
    return Plan(steps=tuple(replace(step, n_wanted=1_000_000) for step in plan.steps))


def four_lanes(gauges: Sequence[Gauge]) -> CaptureSession:
    infos = [gauge.info for gauge in gauges]
    session = CaptureSession(endless_plan(), infos[:2])
    for like, info in zip(infos[:2], infos[2:], strict=True):
        steps = session.lanes[like.gauge_id].progress.steps
        session.lanes[info.gauge_id] = Lane(info, steps, no_review)
    return session


def until(end_s: float, heard: Iterator[Polled | None]) -> Iterator[Polled | None]:
    for item in heard:
        yield item
        if time.monotonic() > end_s:
            return


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What the product made of the streams."""

    used_s: float
    n_readings: int
    n_others: int
    n_taken: int


def nobody(session: CaptureSession) -> Sequence[Watcher]:
    """Show a session on no further screen."""
    return ()


def ours(
    seconds: float,
    hz: float,
    beside: Callable[[CaptureSession], Sequence[Watcher]] = nobody,
) -> Outcome:
    watcher = Counting()
    with ExitStack() as opened:
        folder = opened.enter_context(tempfile.TemporaryDirectory())
        journal = opened.enter_context(Journal.open(Path(folder) / "bench.sqlite"))
        job_id = journal.create_job(JobSetup(title="benchmark", plan=endless_plan()))
        wires = opened.enter_context(four_wires(round(seconds * hz), hz))
        gauges = [
            opened.enter_context(
                open_gauge(f"serial:{device}?format={FORMAT}&sends=stream&kind={kind}")
            )
            for device, kind in zip(wires.devices, KINDS, strict=True)
        ]
        session = four_lanes(gauges)
        told = FanOut(watcher, beside(session), print)
        runner = Runner(session, JobKeeper(journal=journal, job_id=job_id), told)
        with listen_in_threads(gauges) as heard:
            wires.start()
            before_s, begun = cpu_s(), time.monotonic()
            runner.run(until(begun + seconds + SETTLE_S, heard))
            used_s = cpu_s() - before_s
        events = (each.item for each in journal.events(job_id))
        kinds = Counter(type(each.body).__name__ for each in events if isinstance(each, GaugeEvent))
    return Outcome(
        used_s=used_s,
        n_readings=kinds["Reading"],
        n_others=kinds.total() - kinds["Reading"],
        n_taken=watcher.n_taken,
    )


def main(seconds: float, hz: float) -> None:
    # The bare threads before and after, as long together: a machine is never busy evenly.
    before_s = bare(seconds / 2, hz)
    result = ours(seconds, hz)
    floor = 100 * (before_s + bare(seconds / 2, hz)) / seconds
    n_sent = round(seconds * hz) * len(KINDS)
    share = 100 * result.used_s / seconds
    print(f"frames sent          {n_sent} by {len(KINDS)} gauges at {hz:g} a second")
    print(f"readings journaled   {result.n_readings}, missing {n_sent - result.n_readings}")
    print(f"other events         {result.n_others}")
    print(f"readings taken       {result.n_taken}, each durable before it was acknowledged")
    print(f"CPU time             {result.used_s:.2f} s in {seconds:g} s of streaming")
    print(f"share of one core    {share:.1f} %, bare serial threads {floor:.1f} %")
    print(f"gaugelink / bare     {share / floor:.2f} (aim: at most {AIM_RATIO:g})")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--hz", type=float, default=20.0)
    parser.add_argument("--write", type=int, nargs="*", help=argparse.SUPPRESS)
    parser.add_argument("--frames", type=int, help=argparse.SUPPRESS)
    typed = parser.parse_args()
    if typed.write:
        write(typed.write, typed.frames, typed.hz)
    else:
        main(typed.seconds, typed.hz)
