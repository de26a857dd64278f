"""A command reads its job once and works each thing out once: counted, not timed."""

from __future__ import annotations

import sqlite3
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from cli_runs import call

from gaugelink.capture.acts import Act
from gaugelink.capture.progress import Progress
from gaugelink.cli import report
from gaugelink.jobbook.journal import Journal
from gaugelink.report import page_torque
from gaugelink.statistics import summary

STOCK = """item,height (mm),thickness (mm),length (mm),on hand
S1,1.40,0.130,360,2
"""
DOCUMENTED = ("--documented", "1.45 x 0.13 x 370", "--hours-per-turn", "7.5")
FAST = ("--draws", "2000")
N_GAUGES, N_MEASURANDS = 2, 6
WRITES = 1  # a result is kept with its job in a transaction of its own


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A user folder with the demo's job, and a stock."""
    folder = tmp_path_factory.mktemp("home")
    journal = ("--journal", str(folder / "journal.sqlite"))
    (folder / "stock.csv").write_text(STOCK, encoding="utf-8")
    for words in (("demo", "--pace", "100000"), ("stock", str(folder / "stock.csv"))):
        done = call(folder, *words, *journal)
        assert done.code == 0, done.err
    return folder


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """How often a file is opened, a job folded, and so on, from now on."""
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
                monkeypatch.setattr(module, real.__name__, counting(name, real))

    monkeypatch.setattr(sqlite3, "connect", counting("opens", sqlite3.connect))
    monkeypatch.setattr(Progress, "__init__", counting("folds", Progress.__init__))
    monkeypatch.setattr(Progress, "apply", counting("acts", Progress.apply))
    count("summaries", summary.summarise)
    count("curves", page_torque.torque_of)
    return counts


def acts_of(home: Path) -> tuple[Act, ...]:
    with Journal.open(home / "journal.sqlite", to_read=True) as journal:
        return journal.load(1).acts


@pytest.mark.parametrize(
    ("words", "n_opens", "n_curves"),
    [
        (("size", "1", *DOCUMENTED, *FAST), 1 + WRITES, 0),
        (("size", "1", *DOCUMENTED, *FAST, "--draw"), 1 + WRITES, 1),
        (("choose", "1", *DOCUMENTED), 2 + WRITES, 0),  # the job, and the stock
        (("jobs", "1"), 1, 0),
        (("report", "1", *DOCUMENTED, *FAST), 2, 1),  # the job, and the stock
        (("report", "1", *DOCUMENTED, *FAST, "--text"), 2, 1),
    ],
    ids=lambda value: " ".join(value[:1] + value[-1:]) if isinstance(value, tuple) else "",
)
def test_a_command_works_each_thing_out_once(
    words: tuple[str, ...],
    n_opens: int,
    n_curves: int,
    home: Path,
    tmp_path: Path,
    counted: Counter[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    n_acts = len(acts_of(home))
    counted.clear()
    done = call(home, *words)
    assert done.code == 0, done.err
    assert counted == Counter(
        opens=n_opens,
        folds=N_GAUGES,
        acts=n_acts,
        summaries=N_MEASURANDS,
        curves=n_curves,
    )


def test_a_printed_page_is_drawn_once(
    home: Path, tmp_path: Path, counted: Counter[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    printed: list[str] = []
    monkeypatch.setattr(report, "print_page", lambda page, *_, **__: printed.append(page))
    done = call(home, "report", "1", *DOCUMENTED, *FAST, "--pdf", "page.pdf", "--paper", "letter")
    assert done.code == 0, done.err
    assert "size: letter" in printed[0]
    assert "size: letter" not in (tmp_path / "gaugelink-job-1.html").read_text("utf-8")
    assert (counted["curves"], counted["opens"], counted["folds"]) == (1, 2, N_GAUGES)
