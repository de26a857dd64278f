"""A bar shows how far long work is: at a terminal, on stderr, and only when it takes a while."""

from __future__ import annotations

import io
import os
import signal
import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TextIO
from unittest import mock

import pytest
from book_samples import content, fill
from cli_runs import call
from cli_terminal import Terminal

from gaugelink.cli import jobs_files, output
from gaugelink.errors import STOPPED
from gaugelink.jobbook import export
from gaugelink.jobbook.export import Exporter
from gaugelink.jobbook.export_format import insert_job, read_rows
from gaugelink.jobbook.journal import Journal

N_JOBS = 1000  # takes long enough that a bar is seen


@pytest.fixture(name="home", scope="module")
def home_of_many_jobs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a home with a journal of copies of the demo's job."""
    home = tmp_path_factory.mktemp("home")
    path = home / "journal.sqlite"
    fixture = Path(__file__).parents[2] / "fixtures" / "journals" / "schema-1.sql"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(fixture.read_text(encoding="utf-8"))
    Journal.open(path).close()
    with closing(sqlite3.connect(path)) as connection:
        job = read_rows(connection, 1)
        assert job is not None
        job = job._replace(entries=job.entries[:60])
        for number in range(10, 10 + N_JOBS):
            insert_job(connection, job._replace(identity=f"copy {number}"), number)
        connection.commit()
    return home


@pytest.fixture(name="terminal")
def stderr_at_a_terminal(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[int, TextIO]]:
    master, slave = os.openpty()
    with os.fdopen(slave, "w", encoding="utf-8") as stream:
        monkeypatch.setenv("TERM", "xterm-256color")
        monkeypatch.setenv("COLUMNS", "60")  # little enough to wait in the terminal
        yield master, stream
    os.close(master)


def work(steps: int, stderr: TextIO) -> None:
    with mock.patch.object(sys, "stderr", stderr), output.bar("Turning wheels") as told:
        for done in range(steps):
            told(done, steps)


def test_a_bar_says_what_is_done_and_of_how_much(
    terminal: tuple[int, TextIO], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(output, "_BAR_AFTER_S", 0.0)
    monkeypatch.setattr(output, "_BAR_EVERY_S", 0.0)
    master, stderr = terminal
    os.set_blocking(master, False)
    work(3, stderr)
    shown = os.read(master, 1 << 16)
    assert b"Turning wheels" in shown
    assert b"2/3" in shown
    assert b"left" in shown


def test_short_work_shows_none(terminal: tuple[int, TextIO]) -> None:
    master, stderr = terminal
    os.set_blocking(master, False)
    work(4, stderr)
    with pytest.raises(BlockingIOError):
        os.read(master, 1)


def test_who_has_no_terminal_sees_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(output, "_BAR_AFTER_S", 0.0)
    pipe = io.StringIO()
    work(4, pipe)
    assert pipe.getvalue() == ""


def test_a_pipe_sees_the_outcome_alone(home: Path, tmp_path: Path) -> None:
    out = tmp_path / "jobs.json"
    ended = call(home, "jobs", "--export", str(out))
    assert (ended.code, ended.out) == (0, "")
    said = " ".join(ended.err.split())
    assert said == f"Wrote {N_JOBS + 2} jobs and 0 gauge records to {out}."


def test_an_export_at_a_terminal_shows_its_bar_and_ends_whole_or_not_at_all(
    home: Path, tmp_path: Path
) -> None:
    out = tmp_path / "jobs.json"
    with Terminal(home, "jobs", "--export", str(out)) as bench:
        bench.wait_for(b"Exporting jobs")
        bench.signal(signal.SIGINT)
        assert bench.finish() == STOPPED
        assert b"Traceback" not in bench.shown
    assert [*tmp_path.iterdir()] == []


def test_an_import_that_is_stopped_leaves_whole_jobs_and_says_how_many(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal, out = fill(tmp_path / "other.sqlite"), tmp_path / "jobs.json"
    with Exporter(journal) as exporter:
        exporter.write(out)
    monkeypatch.setattr(export, "_HOLD_S", 0.0)  # a job in each transaction

    @contextmanager
    def stopping(what: str) -> Iterator[Callable[[int, int], None]]:
        def told(done: int, of: int) -> None:
            if (what, done, of) == ("Importing jobs", 2, 3):
                raise KeyboardInterrupt

        yield told

    with monkeypatch.context() as patched:
        patched.setattr(jobs_files, "bar", stopping)
        ended = call(tmp_path, "jobs", "--import", str(out))
    assert ended.code == STOPPED
    said = " ".join(ended.err.split())
    assert f"Stopped: 2 of 3 jobs are in the journal, each of them whole. Import {out}" in said
    with closing(sqlite3.connect(tmp_path / "journal.sqlite")) as connection:
        here = [read_rows(connection, number) for number in (1, 2, 3)]
    with closing(sqlite3.connect(journal)) as connection:
        assert here == [*(read_rows(connection, number) for number in (1, 2)), None]
    assert call(tmp_path, "jobs", "--import", str(out)).code == 0
    assert content(tmp_path / "journal.sqlite") == content(journal)
