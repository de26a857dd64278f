"""Backup and restore: whole, checked, and never at the cost of what is there."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from book_samples import KEPT, content, fill, is_sound, more, old_journal

from gaugelink.errors import InputError, JournalBusy, JournalDamaged, JournalError, JournalFull
from gaugelink.jobbook import copies, schema
from gaugelink.jobbook.book import Told, untold
from gaugelink.jobbook.copies import back_up, restore
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.schema import SCHEMA


@pytest.fixture(autouse=True)
def nobody_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(schema, "BUSY_TIMEOUT_S", 0.05)


@pytest.fixture(name="path")
def path_of_a_filled_journal(tmp_path: Path) -> Path:
    (tmp_path / "bench").mkdir()
    return fill(tmp_path / "bench" / "journal.sqlite")


@pytest.fixture(name="backup")
def path_of_a_backup(path: Path, tmp_path: Path) -> Path:
    back_up(path, tmp_path / "backup.sqlite")
    return tmp_path / "backup.sqlite"


def names(folder: Path) -> list[str]:
    return sorted(each.name for each in folder.iterdir())


def spoil(path: Path) -> None:
    """Write noise over the pages in the middle."""
    whole = bytearray(path.read_bytes())
    third = len(whole) // 3 // 4096 * 4096
    whole[third : 2 * third] = random.Random(5).randbytes(third)
    path.write_bytes(whole)


def test_a_backup_is_one_file_with_everything(path: Path, tmp_path: Path) -> None:
    done = back_up(path, tmp_path / "backup.sqlite")
    assert (done.n_jobs, done.n_entries) == (3, 9)
    assert names(tmp_path) == ["backup.sqlite", "bench"]
    assert content(done.path) == content(path)
    assert is_sound(done.path)
    with Journal.open(done.path) as journal:  # and is a journal itself
        assert journal.numbers() == (1, 2, 3)


def test_a_backup_is_taken_while_a_job_is_written(path: Path, tmp_path: Path) -> None:
    with Journal.open(path) as journal:
        journal._connection.execute("BEGIN IMMEDIATE")
        journal._connection.execute("UPDATE job SET title = 'half done'")
        done = back_up(path, tmp_path / "backup.sqlite")
        journal._connection.execute("ROLLBACK")
    assert content(done.path) == content(path)


def test_a_later_backup_replaces_an_earlier_one(path: Path, backup: Path) -> None:
    more(path, 1, 50)
    assert content(backup) != content(path)
    back_up(path, backup)
    assert content(backup) == content(path)
    assert names(backup.parent) == ["backup.sqlite", "bench"]


def test_a_journal_of_schema_1_is_backed_up_as_it_is(tmp_path: Path) -> None:
    old = old_journal(tmp_path / "old.sqlite", 1)
    back_up(old, tmp_path / "backup.sqlite")
    for each in (old, tmp_path / "backup.sqlite"):
        with closing(sqlite3.connect(each)) as connection:
            assert connection.execute("PRAGMA user_version").fetchone() == (1,)


def test_a_backup_never_replaces_what_it_should_not(path: Path, tmp_path: Path) -> None:
    note = tmp_path / "note.txt"
    note.write_text("mine")
    link = tmp_path / "link.sqlite"
    link.symlink_to(path)
    before = content(path)
    for target, sentence in [(path, "itself"), (link, "itself"), (note, "not a backup")]:
        with pytest.raises(InputError, match=sentence):
            back_up(path, target)
    assert note.read_text() == "mine"
    assert content(path) == before


def test_a_backup_in_use_is_left_alone(path: Path, backup: Path) -> None:
    with Journal.open(backup) as journal:
        journal.load(1)
        with pytest.raises(JournalBusy, match="Another program"):
            back_up(path, backup)


def test_a_journal_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="No journal at"):
        back_up(tmp_path / "none.sqlite", tmp_path / "backup.sqlite")
    assert names(tmp_path) == []


def test_a_damaged_journal_gives_no_backup(path: Path, tmp_path: Path) -> None:
    spoil(path)
    before = path.read_bytes()
    with pytest.raises(JournalDamaged) as caught:
        back_up(path, tmp_path / "backup.sqlite")
    assert "--rescue" in caught.value.hint
    assert names(tmp_path) == ["bench"]
    assert path.read_bytes() == before


def test_a_backup_that_does_not_fit_is_said_and_leaves_nothing(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_room(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("gaugelink.jobbook.copies.to_disk", no_room)
    with pytest.raises(JournalFull, match="the journal is as it was"):
        back_up(path, tmp_path / "backup.sqlite")
    assert names(tmp_path) == ["bench"]


def test_a_restored_journal_is_the_backup_and_the_one_before_is_kept(
    path: Path, backup: Path
) -> None:
    at_backup = content(path)
    more(path, 1, 50)
    before = content(path)
    done = restore(backup, path)
    assert content(path) == at_backup
    assert done.aside is not None
    assert content(done.aside) == before
    assert is_sound(path)
    assert names(path.parent) == sorted([path.name, done.aside.name])
    more(path, 1, 60)  # and it goes on
    assert is_sound(path)


def test_two_restores_within_a_second_keep_both(path: Path, backup: Path) -> None:
    asides = [restore(backup, path).aside for _ in range(3)]
    assert len(set(asides)) == 3
    assert all(each is not None and each.exists() for each in asides)


def test_a_restore_where_there_is_nothing(tmp_path: Path, backup: Path) -> None:
    new = tmp_path / "new" / "folder" / "journal.sqlite"
    done = restore(backup, new)
    assert (done.aside, done.copied.n_jobs) == (None, 3)
    assert content(new) == content(backup)


def test_the_log_of_a_journal_that_was_moved_away_does_not_spoil_the_next(
    path: Path, backup: Path
) -> None:
    with Journal.open(path) as journal:
        journal._connection.execute("PRAGMA wal_autocheckpoint = 0")
        more(path, 1, 50)
        logs = {log: path.with_name(path.name + log).read_bytes() for log in ("-wal", "-shm")}
    path.unlink()
    for log, data in logs.items():
        path.with_name(path.name + log).write_bytes(data)
    restore(backup, path)
    assert content(path) == content(backup)
    assert is_sound(path)


@pytest.mark.parametrize("damage", ["noise", "cut", "another file", "empty"])
def test_a_damaged_journal_is_replaced_and_kept(path: Path, backup: Path, damage: str) -> None:
    if damage == "noise":
        spoil(path)
    elif damage == "cut":
        path.write_bytes(path.read_bytes()[:20_000])
    else:
        path.write_bytes(b"recipe" * 900 if damage == "another file" else b"")
    before = path.read_bytes()
    done = restore(backup, path)
    assert done.aside is not None
    assert done.aside.read_bytes() == before
    assert content(path) == content(backup)


def test_without_second_names_a_damaged_journal_is_moved(
    path: Path, backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_links(*_: object) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(os, "link", no_links)
    spoil(path)
    before = path.read_bytes()
    done = restore(backup, path)
    assert done.aside is not None
    assert done.aside.read_bytes() == before
    assert content(path) == content(backup)


def test_a_journal_that_is_open_elsewhere_is_not_replaced(path: Path, backup: Path) -> None:
    before = content(path)
    with Journal.open(path) as journal:
        journal.load(1)
        with pytest.raises(JournalBusy, match="as it was"):
            restore(backup, path)
        assert journal.load(1).acts
    assert content(path) == before
    assert names(path.parent) == [path.name]


def test_what_is_no_sound_journal_is_not_restored(path: Path, backup: Path, tmp_path: Path) -> None:
    before = content(path)
    recipes = tmp_path / "recipes.sqlite"
    with closing(sqlite3.connect(recipes)) as connection:
        connection.execute("CREATE TABLE recipe (name TEXT)")
    newer = Path(shutil.copy(backup, tmp_path / "newer.sqlite"))
    with closing(sqlite3.connect(newer)) as connection:
        connection.execute(f"PRAGMA user_version = {SCHEMA + 1}")
    spoilt = Path(shutil.copy(backup, tmp_path / "spoilt.sqlite"))
    spoil(spoilt)
    note = tmp_path / "note.txt"
    note.write_text("no database " * 99)
    empty = tmp_path / "empty.sqlite"
    empty.touch()
    bare = Path(shutil.copy(backup, tmp_path / "bare.sqlite"))
    with closing(sqlite3.connect(bare)) as connection:
        connection.execute("DROP TABLE fact")
    for file, sentence in {
        empty: "empty.sqlite is empty: it holds no journal",
        bare: "bare.sqlite lacks its fact: it holds no journal",
        recipes: "another program",
        newer: "newer gaugelink",
        spoilt: "damaged",
        note: "not a gaugelink journal",
        tmp_path / "none": "No journal at",
    }.items():
        with pytest.raises(JournalError, match=sentence) as caught:
            restore(file, path)
        assert caught.value.path == str(file)
    assert content(path) == before
    assert names(path.parent) == [path.name]


@pytest.mark.parametrize("is_there", [True, False])
def test_an_empty_backup_puts_nothing_in_the_place_of_nothing(
    path: Path, tmp_path: Path, is_there: bool
) -> None:
    (tmp_path / "zero.sqlite").touch()
    if not is_there:
        path.unlink()
    before = names(path.parent)
    with pytest.raises(JournalDamaged, match="is empty") as caught:
        restore(tmp_path / "zero.sqlite", path)
    assert f"The journal {path} is as it was" in caught.value.hint
    assert names(path.parent) == before


def test_an_empty_journal_gives_no_backup(tmp_path: Path) -> None:
    (tmp_path / "zero.sqlite").touch()
    with pytest.raises(JournalError, match="is empty: there is nothing to back up"):
        back_up(tmp_path / "zero.sqlite", tmp_path / "backup.sqlite")
    assert names(tmp_path) == ["zero.sqlite"]


@pytest.mark.parametrize(
    ("statement", "sentence"),
    [
        ("PRAGMA application_id = 7", "another program"),
        (f"PRAGMA user_version = {SCHEMA + 1}", "newer gaugelink"),
    ],
)
def test_what_is_not_ours_to_replace_is_left_untouched(
    path: Path, backup: Path, statement: str, sentence: str
) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(statement)
    before = path.read_bytes()
    with pytest.raises(JournalDamaged, match=sentence):
        restore(backup, path)
    assert path.read_bytes() == before
    assert names(path.parent) == [path.name]


def test_a_journal_is_not_restored_from_itself(path: Path) -> None:
    with pytest.raises(InputError, match="itself"):
        restore(path, path)


def test_a_restore_that_fails_half_way_leaves_the_journal(
    path: Path, backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    more(path, 1, 50)
    before = content(path)

    def fail(*_: object) -> None:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(copies, "checked", fail)
    with pytest.raises(JournalError, match="as it was"):
        restore(backup, path)
    monkeypatch.undo()
    assert content(path, *KEPT) == content(path, *KEPT) == {k: before[k] for k in KEPT}


@pytest.mark.parametrize("is_sound", [True, False])
def test_a_restore_that_fails_at_the_end_says_where_the_one_before_is(
    path: Path, backup: Path, monkeypatch: pytest.MonkeyPatch, is_sound: bool
) -> None:
    real, calls = (copies.checked, os.replace)[not is_sound], []

    def fail_at_last(*given: object) -> object:
        calls.append(given)
        # The backup, the journal, what is set aside, and then what was put in place.
        if len(calls) == (4 if is_sound else 1):
            raise OSError(5, "Input/output error")
        return real(*given)

    if is_sound:
        monkeypatch.setattr(copies, "checked", fail_at_last)
    else:
        spoil(path)
        monkeypatch.setattr(os, "replace", fail_at_last)
    before = path.read_bytes()
    with pytest.raises(JournalDamaged, match="what was there before is kept as") as caught:
        restore(backup, path)
    monkeypatch.undo()
    aside = Path(str(caught.value).rsplit(" kept as ", 1)[1].rstrip("."))
    assert aside.exists()
    assert str(aside) in caught.value.hint
    if not is_sound:
        assert path.read_bytes() == aside.read_bytes() == before


def test_a_backup_that_grows_while_it_is_restored_is_put_in_place_as_counted(
    path: Path, backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with closing(sqlite3.connect(backup)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
    real = copies.checked

    def counted_then_more(
        connection: sqlite3.Connection, file: Path, told: Told = untold
    ) -> copies.Copied:
        held = real(connection, file, told)
        if file == backup:
            more(backup, 1, 70)
        return held

    monkeypatch.setattr(copies, "checked", counted_then_more)
    assert restore(backup, path).copied.n_entries == 9
