"""What a display costs the job, and how soon it shows what happened.

Run it by hand: ``python tests/benchmarks/bench_display.py [--seconds N] [--readings N]``. Each cost
is measured without a display and with one that three viewers look at, in turn, in this run; only
the ratios and differences mean anything on another machine. Three viewers are read by a process of
their own, and in the last part drawn by a real browser, if there is one.
"""

from __future__ import annotations

import argparse
import math
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS / name) for name in ("", "display", "report", "cli", "benchmarks")]

import bench_latency  # noqa: E402
import bench_stream_cpu  # noqa: E402
from display_bench import Shown, following, shown, snapshot  # noqa: E402
from look import find_browser  # noqa: E402

from gaugelink.capture.acts import Act  # noqa: E402
from gaugelink.capture.runner import Watcher  # noqa: E402
from gaugelink.capture.session import CaptureSession  # noqa: E402
from gaugelink.cli.display import page_files  # noqa: E402
from gaugelink.display.board import BoardWatcher  # noqa: E402
from gaugelink.model import DepthReference, GaugeEvent  # noqa: E402

VIEWERS = 3
# One viewer: reads what comes, and says at its end how much that was.
READ = f"""
import sys
sys.path[:0] = [{str(TESTS / "display")!r}, {str(TESTS.parent)!r}]
from display_bench import following
sizes = []
print("ready", flush=True)
for each in following(sys.argv[1]):
    sizes.append(each["bytes"])
print(len(sizes), sum(sizes), max(sizes), flush=True)
"""


@dataclass(slots=True)
class Timed:
    """A display whose calls are timed, in the thread that measures."""

    inner: BoardWatcher
    took_s: list[float] = field(default_factory=list)

    def heard(self, event: GaugeEvent) -> None:
        self._timed(lambda: self.inner.heard(event))

    def acted(self, acts: Sequence[Act]) -> None:
        self._timed(lambda: self.inner.acted(acts))

    def idle(self) -> None:
        self._timed(self.inner.idle)

    def _timed(self, told: Callable[[], None]) -> None:
        begun_s = time.perf_counter()
        told()
        self.took_s.append(time.perf_counter() - begun_s)


@dataclass(slots=True)
class Looked:
    """A display that is looked at: what its calls took, and what each viewer read."""

    display: Shown
    took_s: list[float] = field(default_factory=list)
    read: list[tuple[int, int, int]] = field(default_factory=list)

    def beside(self, session: CaptureSession) -> Sequence[Watcher]:
        inner = BoardWatcher(self.display.board, session, job_id=1, title="benchmark")
        return [Timed(inner, self.took_s)]


@contextmanager
def looked_at() -> Iterator[Looked]:
    """Give a display that three viewers read, each a process of its own."""
    with shown() as display:
        looked = Looked(display)
        command = [sys.executable, "-c", READ, display.server.url]
        readers = [
            subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for _ in range(VIEWERS)
        ]
        for reader in readers:
            reader.stdout.readline()
        yield looked
        display.server.close()
        for reader in readers:
            count, total, most = map(int, reader.communicate()[0].split())
            looked.read.append((count, total, most))


def quantile(values: Sequence[float], share: float) -> float:
    return sorted(values)[math.ceil(share * len(values)) - 1]


def row(name: str, *values: str) -> None:
    print(f"{name:44}" + "".join(f"{value:>12}" for value in values))


def ms(seconds: float) -> str:
    return f"{1000 * seconds:.2f} ms"


def both(values: Sequence[float]) -> tuple[str, str]:
    return ms(quantile(values, 0.5)), ms(quantile(values, 0.99))


def processor(seconds: float, hz: float) -> None:
    """Four gauges that stream, with and without a display."""
    alone = bench_stream_cpu.ours(seconds / 2, hz).used_s
    with looked_at() as looked:
        result = bench_stream_cpu.ours(seconds, hz, looked.beside)
    alone += bench_stream_cpu.ours(seconds / 2, hz).used_s
    row("", "alone", "3 viewers", "more")
    shares = 100 * alone / seconds, 100 * result.used_s / seconds
    row(
        f"share of a core, 4 gauges at {hz:g} a second",
        *(f"{share:.1f} %" for share in shares),
        f"{shares[1] - shares[0]:+.1f} %",
    )
    print("  aim: less than 2 % of a core more")
    row("", "p50", "p99")
    row("a call in the thread that measures", *both(looked.took_s))
    print("  aim: p99 below 0.5 ms")
    count, total, most = max(looked.read)
    row(
        "a viewer",
        f"{count / seconds:.1f} /s",
        f"{total / seconds / 1000:.1f} kB/s",
        f"{most} B most",
    )
    print("  aim: below 25 kB/s and 1500 B a snapshot")


def latency(readings: int) -> None:
    """From the last byte on the wire to the acknowledged, durable reading."""
    row("", "p50", "p99")
    ratios = []
    for name in ("alone", "3 viewers", "alone again"):
        with tempfile.TemporaryDirectory() as folder:
            if name == "3 viewers":
                with looked_at() as looked:
                    watch = bench_latency.measure(readings, Path(folder), looked.beside)
            else:
                watch = bench_latency.measure(readings, Path(folder))
        row(f"wire to durable reading, {name}", *both(watch.acknowledged_s))
        ratio = quantile(watch.acknowledged_s, 0.99) / quantile(watch.stored_s, 0.99)
        ratios.append(f"{ratio:.2f}")
    row("  its p99 over that of one bare insert", *ratios)
    print("  aim: unchanged (p99 below 20 ms and below 2x)")


def stopping() -> None:
    """The end of a sitting, with a viewer that never reads."""
    with shown() as display, socket.create_connection(display.address) as wire:
        wire.sendall(
            f"GET /stream HTTP/1.1\r\nHost: {display.server.host}\r\n"
            f"Authorization: Bearer {display.token}\r\n\r\n".encode()
        )
        for seq in range(300):
            display.board.lay(snapshot(seq=seq, next="x" * 5000), urgent=True)
            time.sleep(0.002)
        begun_s = time.perf_counter()
        display.server.close()
        row("stopped beside a viewer that never reads", ms(time.perf_counter() - begun_s))
    with shown() as display:
        threads = [
            threading.Thread(target=lambda: [*following(display.server.url)])
            for _ in range(VIEWERS)
        ]
        for thread in threads:
            thread.start()
        time.sleep(0.5)
        begun_s = time.perf_counter()
        display.server.close()
        row("stopped beside three that read", ms(time.perf_counter() - begun_s))
        for thread in threads:
            thread.join()
    print("  aim: below 500 ms")


# The page's own clock is that of the machine: what is laid and what is painted have one.
WATCHED = """(() => {
    const now = () => performance.timeOrigin + performance.now();
    window.painted = {}; window.written = {};
    const flashes = flashNow;
    flashNow = () => { const seq = flashDue.seq; flashes();
        requestAnimationFrame(() => setTimeout(() => { painted[seq] = now(); })); };
    new MutationObserver(() => { written[newest.seq] = now(); })
        .observe(document.getElementById("digits"), {childList: true, subtree: true});
})()"""


def browser(n_acts: int, n_figures: int) -> None:
    """A durable act until it is painted, and a figure until it is in the page."""
    from viewers import DESK, PHONE, TABLET, viewing

    with shown(page_files(DepthReference.RIM, "")) as display, viewing() as viewers:
        windows = [viewers.open(display.server.url, size) for size in (TABLET, PHONE, DESK)]
        for window in windows:
            window.wait_for("document.body.dataset.link === 'ok'")
            window.ask(WATCHED)
        painted = [*acts_painted(display, windows, n_acts)]
        written = [*figures_written(display, windows, n_figures)]
        row("", "p50", "p99", "n")
        row("durable act to painted, 3 viewers", *both(painted), f"{len(painted)}")
        print("  aim: p50 below 50 ms, p99 below 200 ms")
        row("indication to the page at 15 a second", *both(written), f"{len(written)}")
        print("  aim: p50 below 50 ms, p99 below 150 ms")
        begun_s = time.perf_counter()
        windows[0].ask("(anew(), newest = null, 1)")
        windows[0].wait_for("newest !== null")
        row("a stream opened anew", ms(time.perf_counter() - begun_s))
        print("  aim: below 2 s")


def acts_painted(display: Shown, windows: Sequence[Any], n_acts: int) -> Iterator[float]:
    laid_s = {}
    for seq in range(1, n_acts + 1):
        act = {"seq": seq, "at_ms": round(1000 * time.monotonic(), 1), "kind": "taken"}
        act |= {"sign": "check", "text": f"{seq}", "said": "taken"}
        laid_s[seq] = time.time()
        display.board.lay(snapshot(seq=seq, acts=[act]), urgent=True)
        time.sleep(0.45)  # flashes come no closer
    time.sleep(0.5)
    for window in windows:
        seen = window.ask("painted")
        yield from (seen[str(seq)] / 1000 - laid_s[seq] for seq in laid_s if str(seq) in seen)


def figures_written(display: Shown, windows: Sequence[Any], n_figures: int) -> Iterator[float]:
    laid_s = {}
    gauge = snapshot()["gauge"]
    for seq in range(10_000, 10_000 + n_figures):
        laid_s[seq] = time.time()
        display.board.lay(snapshot(seq=seq, gauge={**gauge, "live": f"{seq / 1000:.3f}"}))
        time.sleep(1 / 15)
    time.sleep(0.5)
    for window in windows:
        seen = window.ask("written")
        yield from (seen[str(seq)] / 1000 - laid_s[seq] for seq in laid_s if str(seq) in seen)


def main(seconds: float, hz: float, readings: int) -> None:
    processor(seconds, hz)
    latency(readings)
    stopping()
    if find_browser() is None:
        print("no browser is installed: nothing painted was timed")
    else:
        browser(n_acts=60, n_figures=300)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--hz", type=float, default=20.0)
    parser.add_argument("--readings", type=int, default=300)
    typed = parser.parse_args()
    main(typed.seconds, typed.hz, typed.readings)
