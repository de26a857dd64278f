"""Counts what a command works out: files opened, jobs folded, summaries, torque curves."""

from __future__ import annotations

import sqlite3
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from cli_runs import call

from gaugelink.capture.progress import Progress
from gaugelink.report import page_torque
from gaugelink.statistics import summary

STOCK = """item,height (mm),thickness (mm),length (mm),on hand
S1,1.40,0.130,360,2
"""


def home_with_a_job(folder: Path) -> Path:
    """Make a folder a user folder with the demo's job, number 1, and a stock."""
    journal = ("--journal", str(folder / "journal.sqlite"))
    (folder / "stock.csv").write_text(STOCK, encoding="utf-8")
    for words in (("demo", "--pace", "100000"), ("stock", str(folder / "stock.csv"))):
        done = call(folder, *words, *journal)
        assert done.code == 0, done.err
    return folder


def work_counted(patch: pytest.MonkeyPatch) -> Counter[str]:
    """Return counts that go up from now on, until the patch is undone."""
    counts: Counter[str] = Counter()

    def counting(name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call_counted(*args: Any, **more: Any) -> Any:
            counts[name] += 1
            return real(*args, **more)

        return call_counted

    def count(name: str, real: Callable[..., Any]) -> None:
        """Count a function wherever a module of ours has it, or will import it from."""
        modules = [m for n, m in sys.modules.items() if n.partition(".")[0] == "gaugelink"]
        for module in modules:
            if vars(module).get(real.__name__) is real:
                patch.setattr(module, real.__name__, counting(name, real))

    patch.setattr(sqlite3, "connect", counting("opens", sqlite3.connect))
    patch.setattr(Progress, "__init__", counting("folds", Progress.__init__))
    patch.setattr(Progress, "apply", counting("acts", Progress.apply))
    count("summaries", summary.summarise)
    count("curves", page_torque.torque_of)
    return counts
