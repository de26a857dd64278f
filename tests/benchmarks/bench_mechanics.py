"""What the torque curve costs: one spring, a stock of 100,000, a million Monte Carlo draws.

Run it by hand: ``python tests/benchmarks/bench_mechanics.py [REPEATS]``. Each line sets
the package against something else in the same process, turn about; only ratios mean
anything. "Bare" is the same closed form written out in numpy without classes, checks or
nan; "grid" is the clip model by quadrature on 400 points, which is what a script without
the closed form would do; "quad" is scipy's adaptive quadrature and root finding of the
same model, which is what the tests trust. The springs are invented.
"""

from __future__ import annotations

import math
import resource
import statistics
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq

from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.stopwork import DAY_H, torque_ratio
from gaugelink.mechanics.torque import run_down, torque_after, usable_turns
from gaugelink.uncertainty.estimate import quantity_from_typed
from gaugelink.uncertainty.monte_carlo import draw_blocks

STOCK, DRAWS, GRID = 100_000, 1_000_000, 400
MODULUS_MPA, STRESS_MPA = 215_000.0, 2500.0
SIZES = ("bore", "arbor", "thickness", "length", "height")
TYPED = (
    ("bore", 11.0, 0.02),
    ("arbor", 3.67, 0.04),
    ("thickness", 0.12, 0.002),
    ("length", 352.0, 5.0),
    ("height", 1.5, 0.01),
)


def spring_of(values: dict[str, Any]) -> SpringInBarrel:
    sizes = {f"{name}_mm": values[name] for name in SIZES}
    return SpringInBarrel(**sizes, modulus_mpa=MODULUS_MPA, full_wind_stress_mpa=STRESS_MPA)


def stock() -> SpringInBarrel:
    rng = np.random.default_rng(1)
    thickness = rng.uniform(0.09, 0.16, STOCK)
    ring = math.pi * (11.0**2 - 3.67**2) / 4
    return spring_of(
        {
            "bore": 11.0,
            "arbor": 3.67,
            "thickness": thickness,
            "length": rng.uniform(0.35, 0.7, STOCK) * ring / thickness,
            "height": rng.uniform(1.0, 2.0, STOCK),
        }
    )


def bare_usable(bore: Any, arbor: Any, e: Any, length: Any) -> Any:
    """Usable turns, the closed form alone."""
    a, wall, x = arbor / 2, bore / 2, length * e / math.pi
    b, outer = np.sqrt(wall**2 - x), np.sqrt(a**2 + x)
    gap = b**2 - a**2
    free = 2 * STRESS_MPA / (MODULUS_MPA * e)
    k = np.sqrt(gap) * np.clip(free, 1 / outer - 1 / wall, 1 / a - 1 / b)
    y = np.minimum(np.cbrt(k / 4), 1.0)
    for _ in range(5):
        y = y - ((k * y + 4) * y * y * y - k) / (4 * y * y * (k * y + 3))
    u = np.clip((np.sqrt(gap) * (1 / y - y) / 2) ** 2 - a**2, 0, x)
    p, q = np.sqrt(a**2 + u), np.sqrt(b**2 + u)
    left = ((p - a) ** 2 / p - (q - b) ** 2 / q) / (2 * e)
    before = np.minimum(free - (1 / p - 1 / q), 0) * u / (2 * e)
    return (outer + b - a - wall) / e - left + before


def grid_usable(bore: float, arbor: float, e: Any, length: Any) -> Any:
    """Usable turns by the midpoint rule, a block of springs at a time."""
    turns = np.empty(len(e))
    middles = (np.arange(GRID) + 0.5) / GRID
    for start in range(0, len(e), 1000):
        part = slice(start, start + 1000)
        x = (length[part] * e[part] / math.pi)[:, None]
        wound = 1 / np.sqrt(arbor**2 / 4 + x * middles)
        down = 1 / np.sqrt(bore**2 / 4 - x * (1 - middles))
        free = (2 * STRESS_MPA / (MODULUS_MPA * e[part]))[:, None]
        given = np.minimum(wound - down, free).mean(axis=1)
        turns[part] = given * length[part] / (2 * math.pi)
    return turns


def quad_curve(spring: SpringInBarrel, points: int = 121) -> list[float]:
    """Turns given at evenly spaced torques, each by adaptive quadrature along the strip."""
    length, e = float(spring.length_mm), float(spring.thickness_mm)
    inner = (float(spring.bore_mm) / 2) ** 2 - length * e / math.pi

    def fallen(s: float) -> float:
        wound = 1 / math.sqrt((float(spring.arbor_mm) / 2) ** 2 + e * s / math.pi)
        return wound - 1 / math.sqrt(inner + e * s / math.pi)

    def given(bend: float) -> float:
        if bend <= fallen(length):
            return bend * length / (2 * math.pi)
        meets = brentq(lambda s: fallen(s) - bend, 0.0, length) if bend < fallen(0.0) else 0.0
        return float(bend * meets + quad(fallen, meets, length)[0]) / (2 * math.pi)

    return [given(bend) for bend in np.linspace(0.0, spring.full_wind_bend_per_mm, points)]


def seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def compared(what: str, ours: Callable[[], object], other: Callable[[], object], n: int) -> str:
    pairs = [(seconds(ours), seconds(other)) for _ in range(n)]
    ratio = statistics.median(a / b for a, b in pairs)
    best = min(a for a, _ in pairs), min(b for _, b in pairs)
    return f"{what:<58}{1e3 * best[0]:>9.2f} ms{1e3 * best[1]:>10.2f} ms{ratio:>8.2f}"


def draws_of(evaluate: Callable[[dict[str, Any]], Any]) -> None:
    quantities = [quantity_from_typed(*typed) for typed in TYPED]
    for values in draw_blocks(quantities, draws=DRAWS, seed=1):
        evaluate(values)


def curve_of(one: SpringInBarrel) -> Any:
    return torque_after(one, np.linspace(0.0, float(usable_turns(one)), 121))


def lines(repeats: int) -> list[str]:
    many, one = stock(), spring_of({name: value for name, value, _ in TYPED})
    sizes = many.bore_mm, many.arbor_mm, many.thickness_mm, many.length_mm

    def ranked() -> None:
        run_down(many)
        torque_after(many, DAY_H / 8.0)
        torque_ratio(many, one, turns=3.0)

    def bare(values: dict[str, Any]) -> Any:
        return bare_usable(*(values[name] for name in SIZES[:4]))

    return [
        f"{'':<58}{'gaugelink':>12}{'other':>13}{'ratio':>8}",
        compared(
            "curve of one spring, 121 points / grid, usable turns",
            lambda: curve_of(one),
            lambda: grid_usable(11.0, 3.67, np.array([0.12]), np.array([352.0])),
            20 * repeats,
        ),
        compared(
            "curve of one spring, 121 points / quad, 121 points",
            lambda: curve_of(one),
            lambda: quad_curve(one),
            repeats,
        ),
        compared(
            "usable turns of 100,000 springs / bare numpy",
            lambda: usable_turns(many),
            lambda: bare_usable(*sizes),
            repeats,
        ),
        compared(
            "usable turns of 100,000 springs / grid",
            lambda: usable_turns(many),
            lambda: grid_usable(*sizes),  # type: ignore[arg-type]
            max(1, repeats // 3),
        ),
        compared(
            "all a ranking asks of 100,000 / usable turns by grid",
            ranked,
            lambda: grid_usable(*sizes),  # type: ignore[arg-type]
            max(1, repeats // 3),
        ),
        compared(
            "a million draws of the usable turns / bare numpy",
            lambda: draws_of(lambda values: usable_turns(spring_of(values))),
            lambda: draws_of(bare),
            repeats,
        ),
    ]


def main(repeats: int) -> None:
    many = stock()
    sizes = many.bore_mm, many.arbor_mm, many.thickness_mm, many.length_mm
    np.testing.assert_allclose(usable_turns(many), bare_usable(*sizes), rtol=1e-9)
    one = spring_of({name: value for name, value, _ in TYPED})
    np.testing.assert_allclose(usable_turns(one), quad_curve(one)[-1], rtol=1e-9)
    for line in lines(repeats):
        sys.stdout.write(f"{line}\n")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write(f"most memory of this process: {peak:.0f} MiB\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 9)
