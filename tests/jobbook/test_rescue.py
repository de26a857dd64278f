"""What can be read of a damaged journal comes across, and nothing is made up."""

from __future__ import annotations

import random
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from book_samples import KEPT, content, fill, is_sound, old_journal
from jobbook_samples import begin, heard, keep, taken

from gaugelink.capture.acts import Superseded, Undone
from gaugelink.errors import InputError, JournalDamaged
from gaugelink.jobbook.export import Exporter, Importer, read_job_file
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.rescue import Rescued, rescue

PAGE = 4096


@pytest.fixture(name="path")
def path_of_a_long_journal(tmp_path: Path) -> Path:
    path = fill(tmp_path / "journal.sqlite")
    with Journal.open(path) as journal:
        for job_id in (1, 2):
            keep(journal, job_id, *(item for n in range(200) for item in (heard(n), taken(n))))
    return path


def save(path: Path) -> Rescued:
    target = path.with_name("rescued.sqlite")
    target.unlink(missing_ok=True)
    return rescue(path, target)


def pages_of(path: Path, table: str) -> list[int]:
    """Return the pages on which the rows of a table lie, without those that lead to them."""
    with closing(sqlite3.connect(path)) as connection:
        rows = connection.execute(
            "SELECT pageno FROM dbstat WHERE name = ? AND pagetype = 'leaf'", (table,)
        )
        return sorted(page for (page,) in rows)


def has_dbstat() -> bool:
    with closing(sqlite3.connect(":memory:")) as connection:
        return connection.execute(
            "SELECT sqlite_compileoption_used('ENABLE_DBSTAT_VTAB')"
        ).fetchone() == (1,)


def overwrite(path: Path, page: int, seed: int = 3) -> None:
    whole = bytearray(path.read_bytes())
    whole[(page - 1) * PAGE : page * PAGE] = random.Random(seed).randbytes(PAGE)
    path.write_bytes(whole)


def test_a_sound_journal_comes_across_whole(path: Path) -> None:
    done = save(path)
    assert content(done.path) == content(path)
    assert is_sound(done.path)
    assert [(job.job_id, job.n_entries, job.lost) for job in done.jobs] == [
        (1, 403, ()),
        (2, 403, ()),
        (3, 3, ()),
    ]
    assert sorted(each.name for each in path.parent.iterdir()) == [path.name, "rescued.sqlite"]


def test_a_journal_of_schema_1_comes_across(tmp_path: Path) -> None:
    old = old_journal(tmp_path / "old.sqlite", 1)
    before = content(old, "job", "gauge", "entry")
    done = save(old)
    assert [row[:5] for row in content(done.path, "job")["job"]] == before["job"]
    assert content(done.path, "gauge", "entry") == {k: before[k] for k in ("gauge", "entry")}


def test_what_is_still_in_the_log_comes_across(path: Path) -> None:
    with Journal.open(path) as journal:
        keep(journal, 3, taken(777))
        assert path.with_name(f"{path.name}-wal").stat().st_size > 0
        done = save(path)
        assert done.jobs[2].n_entries == 4


@pytest.mark.campaign
def test_every_page_may_be_lost_and_the_rest_comes_across(path: Path) -> None:
    """Each page in turn: what comes across is part of what was there, and mostly all of it."""
    whole, intact = path.read_bytes(), {k: set(v) for k, v in content(path, *KEPT).items()}
    n_rows = sum(map(len, intact.values()))
    shares = []
    for page in range(2, len(whole) // PAGE + 1):
        overwrite(path, page, seed=page)
        damaged = path.read_bytes()
        try:
            done = save(path)
        except JournalDamaged:
            shares.append(0.0)
        else:
            found = {k: set(v) for k, v in content(done.path, *KEPT).items()}
            kept = {k: rows for k, rows in found.items() if k != "job"}
            assert all(rows <= intact[k] for k, rows in kept.items())
            shares.append(sum(map(len, kept.values())) / n_rows)
            with Journal.open(done.path) as journal:
                assert all(journal.load(n).job_id == n for n in journal.numbers())
        assert path.read_bytes() == damaged
        path.write_bytes(whole)
    shares.sort()
    assert shares[len(shares) // 2] > 0.9
    assert sum(share > 0.5 for share in shares) > 0.8 * len(shares)


@pytest.mark.skipif(not has_dbstat(), reason="this SQLite does not tell where tables lie")
def test_past_a_bad_place_it_goes_on_and_says_what_is_missing(path: Path) -> None:
    leaves = pages_of(path, "entry")
    for page in (leaves[len(leaves) // 3], leaves[2 * len(leaves) // 3]):
        overwrite(path, page)
    jobs = save(path).jobs
    lost = [job for job in jobs if job.lost]
    assert lost
    assert all(job.n_entries + len(job.lost) == 403 for job in lost)
    assert sum(job.n_entries for job in jobs) > 700


@pytest.mark.skipif(not has_dbstat(), reason="this SQLite does not tell where tables lie")
def test_without_its_own_row_a_job_keeps_its_entries_and_number(path: Path) -> None:
    for page in pages_of(path, "job"):
        overwrite(path, page)
    done = save(path)
    assert [(job.job_id, job.n_entries) for job in done.jobs] == [(1, 403), (2, 403), (3, 3)]
    with Journal.open(done.path) as journal:
        assert journal.load(1).setup.title == "rescued: its title is lost"
        assert len(journal.load(1).acts) == 201
    assert is_sound(done.path)


def test_an_undo_whose_reading_is_lost_takes_nothing_back(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    undone = Undone(gauge_id="caliper-1", elapsed_s=9.0, measurand="bore", displayed="0.02")
    with Journal.open(path) as journal:
        job_id = begin(journal)
        keep(journal, job_id, taken(1), taken(2), undone)
        journal._connection.execute("DELETE FROM entry WHERE number = 2")
    done = save(path)
    with Journal.open(done.path) as journal:
        assert journal.load(job_id).acts == (taken(1),)
        assert journal.jobs()[0].n_standing == 1


def test_an_undo_never_reaches_what_was_settled_before_a_redo(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    undone = Undone(gauge_id="caliper-1", elapsed_s=9.0, measurand="bore", displayed="0.01")
    anew = Superseded(gauge_id="caliper-1", measurand="depth")
    with Journal.open(path) as journal:
        job_id = begin(journal)
        keep(journal, job_id, taken(1), anew, undone)
    done = save(path)
    with Journal.open(done.path) as journal:
        assert journal.load(job_id).acts == (taken(1), anew)


def test_a_rescued_job_can_be_exported_and_imported(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("DELETE FROM entry WHERE job_id = 1 AND number BETWEEN 50 AND 60")
        connection.commit()
    done = save(path)
    assert done.jobs[0].lost == tuple(range(50, 61))
    file, other = path.with_name("jobs.json"), path.with_name("other.sqlite")
    with Exporter(done.path) as exporter:
        exporter.write(file)
    with Importer(other) as importer:
        importer.take(read_job_file(file))
    assert content(other, *KEPT) == content(done.path, *KEPT)


@pytest.mark.parametrize("what", [b"", b"no database " * 999, b"SQLite format 3\x00" + bytes(9000)])
def test_where_nothing_can_be_read_it_says_so(tmp_path: Path, what: bytes) -> None:
    path = tmp_path / "journal.sqlite"
    path.write_bytes(what)
    with pytest.raises(JournalDamaged, match="Nothing can be read") as caught:
        save(path)
    assert "--restore" in caught.value.hint
    assert path.read_bytes() == what
    assert [each.name for each in tmp_path.iterdir()] == [path.name]


def test_nothing_is_written_over(path: Path, tmp_path: Path) -> None:
    target = tmp_path / "mine.sqlite"
    target.write_text("mine")
    with pytest.raises(InputError, match="there already"):
        rescue(path, target)
    assert target.read_text() == "mine"
