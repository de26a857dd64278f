"""What a choice costs: a thousand, ten thousand and a hundred thousand springs.

Run it by hand: ``python tests/benchmarks/bench_choosing.py [REPEATS]``. It prints the time
that the processor worked, best of the repeats: for the ranking that a choice is made from,
for every spring in its order, and for the whole choice; what one spring more costs the
ranking from 1,000 to 100,000; and the memory that the choice takes above that of the stock.
Only ratios mean anything on another machine. The springs are invented.
"""

from __future__ import annotations

import random
import resource
import sys
import time
from collections.abc import Callable

from gaugelink.choosing.case import prepare
from gaugelink.choosing.choose_spring import LOOKED_THROUGH, choose_spring
from gaugelink.choosing.ranking import rank
from gaugelink.choosing.state import ChoosingInputs
from gaugelink.sizing.inputs import SizingInputs, typed_input
from gaugelink.stock.stock_spring import StockSpring

SIZES = (1_000, 10_000, 100_000)
BARREL = {"bore": 11.02, "depth": 1.92, "lid": 0.31, "arbor": 3.67}


def stock(n: int, seed: int = 1, *, near: bool) -> list[StockSpring]:
    """Return invented springs, over all usual sizes or all near to what the barrel takes."""
    at = random.Random(seed)
    heights, thicknesses = ((1.3, 1.5), (0.115, 0.138)) if near else ((0.8, 3.0), (0.07, 0.22))
    return [
        StockSpring(
            item=f"item {i}",
            height_mm=round(at.uniform(*heights) / 0.05) * 0.05,
            thickness_mm=round(at.uniform(*thicknesses), 3),
            length_mm=at.randrange(280, 440, 10) if near else at.randrange(150, 800, 10),
            end=at.choice((None, "hook", "tongue")),
        )
        for i in range(n)
    ]


def inputs() -> ChoosingInputs:
    typed = {name: typed_input(name, value) for name, value in BARREL.items()}
    return ChoosingInputs(barrel=SizingInputs(**typed, hours_per_turn=7.5))


def best_s(work: Callable[[], object], repeats: int) -> float:
    times = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def memory_mib() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def line(springs: list[StockSpring], repeats: int) -> tuple[str, float]:
    job = inputs()
    ranking = best_s(lambda: rank(prepare(job, springs), first=LOOKED_THROUGH), repeats)
    every = best_s(lambda: rank(prepare(job, springs)), repeats)
    whole = best_s(lambda: choose_spring(job, springs), repeats)
    fit = rank(prepare(job, springs), first=1).fit
    shown = "".join(f"{1e3 * each:>12.0f} ms" for each in (ranking, every, whole))
    return f"{len(springs):>9,}{fit:>9,}{shown}", ranking


def main(repeats: int) -> None:
    for near in (False, True):
        sys.stdout.write("all near to what is wanted\n" if near else "over all usual sizes\n")
        sys.stdout.write(
            f"{'springs':>9}{'fit':>9}{'ranking':>15}{'every one':>15}{'choice':>15}\n"
        )
        ranked = {}
        for n in SIZES:
            springs = stock(n, near=near)
            before = memory_mib()
            text, ranked[n] = line(springs, repeats)
            sys.stdout.write(f"{text}{memory_mib() - before:>8.0f} MiB more\n")
        few, some, many = (ranked[n] for n in SIZES)
        slopes = (some - few) / (SIZES[1] - SIZES[0]), (many - some) / (SIZES[2] - SIZES[1])
        sys.stdout.write(f"one more costs {1e6 * slopes[0]:.1f}, then {1e6 * slopes[1]:.1f} us\n")
    sys.stdout.write(f"most memory of this process, stocks included: {memory_mib():.0f} MiB\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
