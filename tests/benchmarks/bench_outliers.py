"""What looking for outliers costs, over summing up the same readings: it must grow linearly.

Run it by hand: ``python tests/benchmarks/bench_outliers.py [ROUNDS]``. Series of normal readings
with a fifth of them wrong, one that agrees and one that does not keep to what is known, are
treated as they come, in processes that know no critical value yet, then once more. Only
ratios mean anything; the milliseconds are of this machine.
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from collections.abc import Callable

from gaugelink.statistics import known_scatter, outlier_method
from gaugelink.statistics.moments import std
from gaugelink.statistics.treatment import treat

ROUNDS = 5
COUNTS = (5, 12, 25, 100, 200, 400, 800)
HANDS = {"steady": (0.01, 0.2), "shaky": (0.03, 0.0), "wrong": (0.03, 0.2)}
STEP_MM = 0.01


def seconds(work: Callable[[], object]) -> float:
    """Return how long something took, in s."""
    begun_s = time.perf_counter()
    work()
    return time.perf_counter() - begun_s


def forget() -> None:
    """Forget all critical values, as a process that has just begun."""
    known_scatter.range_quantile.cache_clear()
    known_scatter.shown_critical.cache_clear()
    outlier_method.grubbs_critical.cache_clear()


def series(n: int, scatter_mm: float, share: float, rng: random.Random) -> list[float]:
    """Draw n readings in mm as a display shows them."""
    values = [rng.gauss(12.0, scatter_mm) for _ in range(n)]
    values = [v + rng.choice([-0.3, 0.3]) * (rng.random() < share) for v in values]
    return [STEP_MM * round(v / STEP_MM) for v in values]


def report(rounds: int) -> str:
    """Lay out ms the first time and after, and the latter over one sum of squares."""
    lines = [f"{rounds} rounds   readings  first ms   then ms   then/std"]
    for name, (scatter_mm, share) in HANDS.items():
        for n in COUNTS:
            took: list[tuple[float, float, float]] = []
            for index in range(rounds):
                values = series(n, scatter_mm, share, random.Random(index))
                forget()
                first, then, bare = (
                    seconds(lambda: treat(values, STEP_MM)),  # noqa: B023
                    seconds(lambda: treat(values, STEP_MM)),  # noqa: B023
                    seconds(lambda: std(values)),  # noqa: B023
                )
                took.append((first, then, bare))
            first, then, bare = (statistics.median(column) for column in zip(*took, strict=True))
            lines.append(
                f"{name:10}{n:10}{1000 * first:10.2f}{1000 * then:10.2f}{then / bare:11.0f}"
            )
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.stdout.write(report(int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS))
