"""Time and size of the page, over the sizing that it tells of.

Run it by hand: ``python tests/benchmarks/bench_report.py [ROUNDS]``. Each case is sized and
rendered in turn, so that a busy machine slows both alike. Only ratios mean anything.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable, Mapping
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "report"))

from page_samples import CASES

from gaugelink.report.page_content import PageContent
from gaugelink.report.page_html import page_html
from gaugelink.report.page_text import page_text
from gaugelink.sizing.size_spring import size_spring

ROUNDS = 5
MEASURED = ("whole", "by_rule", "many_readings", "unfinished")
DRAWS = 200_000  # what the command draws


def seconds(work: Callable[[], object]) -> float:
    """Return how long something took, in s."""
    begun_s = time.perf_counter()
    work()
    return time.perf_counter() - begun_s


def timings(content: PageContent, rounds: int) -> Mapping[str, float]:
    """Return the median of each kind of work, in s; the first round fills the caches."""
    sizing = content.sizing
    works: dict[str, Callable[[], object]] = {
        "page": lambda: page_html(content),
        "text": lambda: page_text(content),
    }
    if sizing is not None:
        works["sizing"] = lambda: size_spring(sizing.inputs, draws=DRAWS)
    took = [{name: seconds(work) for name, work in works.items()} for _ in range(rounds + 1)]
    return {name: statistics.median(each[name] for each in took[1:]) for name in works}


def report(rounds: int) -> str:
    """Lay out page and text in ms, over the sizing, and the size of the page in kB."""
    lines = [f"{rounds} rounds{'':9}page ms   text ms  page/sizing   page kB"]
    for case in MEASURED:
        content = CASES[case]()
        took = timings(content, rounds)
        ratio = f"{took['page'] / took['sizing']:.2f}" if "sizing" in took else "-"
        size_kb = len(page_html(content).encode()) / 1000
        lines.append(
            f"{case:16}{1000 * took['page']:9.1f}{1000 * took['text']:10.1f}{ratio:>13}"
            f"{size_kb:10.0f}"
        )
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.stdout.write(report(int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS))
