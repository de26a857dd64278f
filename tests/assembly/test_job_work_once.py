"""A command reads its job once and works each thing out once: counted, not timed."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from cli_runs import call
from work_counts import home_with_a_job, work_counted

from gaugelink.capture.acts import Act
from gaugelink.cli import report
from gaugelink.jobbook.journal import Journal

DOCUMENTED = ("--documented", "1.45 x 0.13 x 370", "--hours-per-turn", "7.5")
FAST = ("--draws", "2000")
N_GAUGES, N_MEASURANDS = 2, 6
WRITES = 1  # a result is kept with its job in a transaction of its own


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return home_with_a_job(tmp_path_factory.mktemp("home"))


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """How often a file is opened, a job folded, and so on, from now on."""
    return work_counted(monkeypatch)


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
