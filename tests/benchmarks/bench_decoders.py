"""What decoding costs: every shipped format against a bare ``bytes.split`` of the same bytes.

Run it by hand: ``python tests/benchmarks/bench_decoders.py [--frames N]``. One core, one
process: 4096 bytes at a time, as a port gives them. The bare loop cuts the bytes at line
ends and does nothing with them. For the bridge and for HID, where one piece comes at a time,
the second table gives the time from a piece in hand to its event, beside a bare read of the
same piece from a pipe. Only the ratios mean anything on another machine; sizes are invented.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random

sys.path.append(str(Path(__file__).parents[1] / "faults"))

from campaign import Trial, draw
from senders import INCH, MM, SENDERS, Sender

from gaugelink.devices.contract import Decoder
from gaugelink.devices.decoders import make_decoder
from gaugelink.model import Frame

CHUNK_BYTES = 4096
ROUNDS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Traffic:
    """What one gauge sends: a piece a frame, and how many values that makes."""

    sender: Sender
    pieces: tuple[bytes, ...]

    @property
    def data(self) -> bytes:
        return b"".join(self.pieces)

    def decoder(self) -> Decoder:
        says_none = self.sender.profile.line is not None and INCH not in self.sender.step
        decoder = make_decoder(self.sender.profile, unit=MM if says_none else None)
        decoder.feed(self.sender.opening)
        return decoder


def traffic_of(sender: Sender, n_frames: int) -> Traffic:
    dice = Random(sender.name)
    trial = Trial(sender, dice)
    pieces: list[bytes] = []
    while len(pieces) < n_frames:
        size = draw(sender, dice, bore=True)
        pieces += [b"".join(trial.frame(size)) for _ in range(2 if sender.needs_two else 1)]
    return Traffic(sender=sender, pieces=tuple(pieces))


def best_s(work: Callable[[], object]) -> float:
    """Return the CPU time of the quickest of some rounds, in s."""
    times = []
    for _ in range(ROUNDS):
        begun_s = time.process_time()
        work()
        times.append(time.process_time() - begun_s)
    return min(times)


def chunks(data: bytes) -> Sequence[bytes]:
    return [data[i : i + CHUNK_BYTES] for i in range(0, len(data), CHUNK_BYTES)]


def decode(traffic: Traffic) -> int:
    """Decode everything; return how many values it made."""
    decoder = traffic.decoder()
    events = [event for chunk in chunks(traffic.data) for event in decoder.feed(chunk)]
    return sum(isinstance(event, Frame) for event in events)


def cut_only(data: bytes) -> int:
    """Cut the bytes at line ends and do nothing with the lines."""
    rest, n_lines = b"", 0
    for chunk in chunks(data):
        *lines, rest = (rest + chunk).split(b"\n")
        n_lines += len(lines)
    return n_lines


def throughput(traffic: Traffic) -> str:
    n_frames, data = len(traffic.pieces), traffic.data
    n_values = decode(traffic)
    expected = n_frames // 2 if traffic.sender.needs_two else n_frames
    if n_values < expected:
        sys.exit(f"{traffic.sender.name}: {n_values} values of {expected}")
    bare_lines = data if b"\n" in data else data.replace(b"\r", b"\n")
    decoded_s, bare_s = best_s(lambda: decode(traffic)), best_s(lambda: cut_only(bare_lines))
    return (
        f"{traffic.sender.name:28}{n_frames / decoded_s:12.0f}{len(data) / decoded_s / 1e6:10.2f}"
        f"{decoded_s / bare_s:12.0f}"
    )


def latency(traffic: Traffic) -> str:
    """Compare a piece's way through the decoder with a read of it from a pipe."""
    reader, writer = os.pipe()
    decoder, read_us, decoded_us = traffic.decoder(), [], []
    for piece in traffic.pieces:
        os.write(writer, piece)
        begun_ns = time.perf_counter_ns()
        data = os.read(reader, CHUNK_BYTES)
        read_ns = time.perf_counter_ns()
        decoder.feed(data)
        decoded_us.append((time.perf_counter_ns() - read_ns) / 1000)
        read_us.append((read_ns - begun_ns) / 1000)
    os.close(reader)
    os.close(writer)
    bare, ours = statistics.median(read_us), statistics.median(decoded_us)
    last = sorted(decoded_us)[int(0.99 * len(decoded_us))]
    return f"{traffic.sender.name:28}{bare:12.1f}{ours:12.1f}{last:12.1f}{ours / bare:12.1f}"


def main() -> None:
    """Measure and print both tables."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--frames", type=int, default=5000)
    n_frames = options.parse_args().frames
    found = [traffic_of(sender, n_frames) for sender in SENDERS]
    print(f"{'format':28}{'frames/s':>12}{'MB/s':>10}{'x split':>12}")
    for traffic in found:
        print(throughput(traffic))
    heads = ("bare read", "decoding", "99 %", "ratio")
    print("\n" + f"{'one piece at a time, in µs':28}" + "".join(f"{head:>12}" for head in heads))
    for traffic in found:
        if traffic.sender.profile.line is None:
            print(latency(traffic))


if __name__ == "__main__":
    main()
