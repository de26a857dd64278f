"""A journal of every released schema comes up to date whole, at once, or not at all."""

from __future__ import annotations

import os
import signal
import sqlite3
import sys
import traceback
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from book_samples import FIXTURES, content, is_sound, old_journal

from gaugelink.assembly.job import Job
from gaugelink.assembly.measured import estimates_of
from gaugelink.errors import JournalDamaged
from gaugelink.jobbook import schema
from gaugelink.jobbook.facts import FactBook, Remark
from gaugelink.jobbook.gauge_book import GaugeBook, GaugeRecords
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.schema import FIRST_TABLES, SCHEMA, SECOND_TABLES, STEPS
from gaugelink.jobbook.stock_book import StockBook

RELEASED = (1, 2)  # schemas of which there are files out there, before the present one
GAUGE_TABLES = ("known_gauge", "gauge_record", "gauge_check")
WITHOUT = [(), GAUGE_TABLES]  # the first files of schema 1 had no tables of gauges
OLD = [*((1, without) for without in WITHOUT), (2, ())]
FIRST = ("job", "gauge", "entry")
N_STATEMENTS = len(SECOND_TABLES)


def schema_number(path: Path) -> int:
    with closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("PRAGMA user_version").fetchone()[0])


def tables_of(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """Return what each table and index looks like, whatever way it came about."""
    with closing(sqlite3.connect(path)) as connection:
        found = connection.execute("SELECT name, tbl_name FROM sqlite_master ORDER BY name")
        return {
            name: connection.execute(f"PRAGMA table_xinfo({name})").fetchall()
            for name, _ in found.fetchall()
        }


def test_every_released_schema_has_a_journal_in_the_fixtures() -> None:
    assert tuple(range(1, SCHEMA)) == RELEASED
    assert list(STEPS) == [*RELEASED, SCHEMA]
    assert {released for released, _ in OLD} == set(RELEASED)
    for number in RELEASED:
        assert (FIXTURES / f"schema-{number}.sql").is_file()


@pytest.mark.parametrize(("released", "without"), OLD, ids=["late", "early", "second"])
def test_an_older_journal_keeps_every_row(
    released: int, without: tuple[str, ...], tmp_path: Path
) -> None:
    path = old_journal(tmp_path / "journal.sqlite", released, without)
    there = tuple(table for table in (*FIRST, *GAUGE_TABLES) if table not in without)
    before = content(path, *there)
    Journal.open(path).close()
    assert schema_number(path) == SCHEMA
    after = content(path, *there)
    assert [row[: len(old)] for row, old in zip(after.pop("job"), before["job"], strict=True)] == (
        before.pop("job")
    )
    assert after == before
    assert is_sound(path)


@pytest.mark.parametrize(("released", "without"), OLD, ids=["late", "early", "second"])
def test_an_older_journal_ends_up_like_a_new_one(
    released: int, without: tuple[str, ...], tmp_path: Path
) -> None:
    old, new = old_journal(tmp_path / "old.sqlite", released, without), tmp_path / "new.sqlite"
    for path in (old, new):
        Journal.open(path).close()
    assert tables_of(old) == tables_of(new)


def test_a_job_of_schema_1_is_used_like_any_other(tmp_path: Path) -> None:
    path = old_journal(tmp_path / "journal.sqlite", 1)
    with FactBook(path) as facts:  # whichever part opens it first
        facts.add(2, Remark(text="kept beside an old job"))
    with Journal.open(path) as journal:
        demo, left_open = journal.load(1), journal.load(2)
        assert (demo.closed, left_open.closed) == (True, False)
        assert left_open.setup.title == "Würfel 3, left open"
        sizes = {each.label: each.value for each in estimates_of(Job(demo).quantities())}
        assert sizes["bore"] == pytest.approx(11.51, abs=0.02)
        assert [entry.kind for entry in journal.events(2)] == ["reading", "taken", "fault"]
        assert journal.create_job(left_open.setup) == 3
    with GaugeBook(path) as book, GaugeRecords(path) as records:
        assert [gauge.gauge_id for gauge in book.gauges()] == ["usb-1234:5678-A1"]
        assert [len(record.checks) for record in records.all()] == [1]


def test_a_stock_of_schema_2_is_kept_and_what_its_list_said_is_not_known(tmp_path: Path) -> None:
    path = old_journal(tmp_path / "journal.sqlite", 2)
    stock, uses = (content(path, table)[table] for table in ("stock_spring", "stock_use"))
    with StockBook(path) as book:
        assert len(book.springs()) == len(stock) > 0
        (used,) = [spring for spring in book.springs() if spring.item == "demo-062"]
        assert book.use("demo-062").on_hand == used.on_hand - 1
    after = content(path, "stock_spring", "stock_use")
    same = [row for row in stock if row[0] != "demo-062"]
    assert [row for row in after["stock_spring"] if row[0] != "demo-062"] == [
        (*row, None) for row in same
    ]
    assert after["stock_use"][: len(uses)] == uses


def test_two_copies_of_one_journal_agree_about_the_identity_of_their_jobs(tmp_path: Path) -> None:
    paths = [old_journal(tmp_path / f"{name}.sqlite", 1) for name in "ab"]
    identities = []
    for path in paths:
        with Journal.open(path) as journal:
            query = "SELECT identity FROM job ORDER BY job_id"
            identities.append(journal._connection.execute(query).fetchall())
            journal.create_job(journal.load(1).setup)
            new = journal._connection.execute(query).fetchall()[-1]
            assert new not in identities[0]
    assert identities[0] == identities[1]
    assert len(set(identities[0])) == 2


def test_a_statement_that_fails_leaves_the_old_journal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = old_journal(tmp_path / "journal.sqlite", 1)
    before = content(path, *FIRST)
    monkeypatch.setitem(STEPS, 2, (*SECOND_TABLES, "CREATE TABLE job (a)"))
    with pytest.raises(JournalDamaged, match="already exists"):
        Journal.open(path)
    assert schema_number(path) == 1
    assert content(path, *FIRST) == before
    monkeypatch.undo()
    Journal.open(path).close()
    assert schema_number(path) == SCHEMA


def dying(after: int) -> Iterator[str]:
    """Give the statements of the step, and end this process before one of them."""
    for number, statement in enumerate(SECOND_TABLES):
        if number == after:
            os.kill(os.getpid(), signal.SIGKILL)
        yield statement
    os.kill(os.getpid(), signal.SIGKILL)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork")
@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
@pytest.mark.parametrize("after", [0, 1, 4, 5, N_STATEMENTS - 1, N_STATEMENTS])
def test_a_kill_between_any_two_statements_leaves_the_old_journal(
    after: int, tmp_path: Path
) -> None:
    path = old_journal(tmp_path / "journal.sqlite", 1)
    before = content(path, *FIRST)
    pid = os.fork()
    if pid == 0:
        try:
            schema.STEPS[2] = dying(after)  # type: ignore[assignment]
            schema.connect(path)
        except BaseException:
            traceback.print_exc(file=sys.stderr)
        finally:
            os._exit(1)
    _, status = os.waitpid(pid, 0)
    assert os.waitstatus_to_exitcode(status) == -signal.SIGKILL
    assert schema_number(path) == 1
    assert content(path, *FIRST) == before
    Journal.open(path).close()
    assert schema_number(path) == SCHEMA
    assert is_sound(path)


def test_a_journal_of_a_newer_schema_is_refused_by_every_part_and_untouched(tmp_path: Path) -> None:
    path = old_journal(tmp_path / "journal.sqlite", 1)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version = {SCHEMA + 1}")
        connection.commit()
    before = path.read_bytes()
    for part in (Journal.open, FactBook, GaugeBook, GaugeRecords):
        with pytest.raises(JournalDamaged, match=r"newer gaugelink.*untouched"):
            part(path)
    assert path.read_bytes() == before
    assert [each.name for each in tmp_path.iterdir()] == [path.name]


def test_the_first_step_still_makes_what_schema_1_had(tmp_path: Path) -> None:
    """What was released stands: the first step is compared with the file of that time."""
    made, old = tmp_path / "made.sqlite", old_journal(tmp_path / "old.sqlite", 1, GAUGE_TABLES)
    with closing(sqlite3.connect(made)) as connection:
        for statement in FIRST_TABLES:
            connection.execute(statement)
    there = tables_of(old)
    assert tables_of(made) == there
