from __future__ import annotations

import random
import sqlite3
from contextlib import closing

import pytest
from jobbook_samples import begin, heard, keep, taken

from gaugelink.errors import JournalDamaged
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.schema import APPLICATION_ID, SCHEMA


@pytest.fixture
def path(tmp_path):
    return tmp_path / "journal.sqlite"


@pytest.fixture
def filled(path):
    with Journal.open(path) as journal:
        job_id = begin(journal)
        keep(journal, job_id, *(item for n in range(300) for item in (heard(n), taken(n))))
    return path


def run(path, *statements):
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        return [connection.execute(statement).fetchone() for statement in statements]


def test_a_new_file_carries_our_mark_and_schema(path):
    Journal.open(path).close()
    found = run(path, "PRAGMA application_id", "PRAGMA user_version", "PRAGMA journal_mode")
    assert found == [(APPLICATION_ID,), (SCHEMA,), ("wal",)]


def test_a_commit_waits_for_the_disk(path):
    with Journal.open(path) as journal:
        settings = [
            journal._connection.execute(f"PRAGMA {name}").fetchone()
            for name in ("journal_mode", "synchronous", "fullfsync", "foreign_keys")
        ]
    assert settings == [("wal",), (2,), (1,), (1,)]  # 2 is FULL


def test_an_empty_file_becomes_a_journal(path):
    path.touch()
    with Journal.open(path) as journal:
        assert journal.load(begin(journal)).acts == ()


def test_a_newer_journal_is_refused_and_left_untouched(filled):
    run(filled, f"PRAGMA user_version = {SCHEMA + 1}")
    before = filled.read_bytes()
    with pytest.raises(JournalDamaged, match=r"newer gaugelink.*untouched") as caught:
        Journal.open(filled)
    assert filled.read_bytes() == before
    assert [file.name for file in filled.parent.iterdir()] == [filled.name]
    assert str(filled) in str(caught.value)
    assert caught.value.hint


def test_a_database_of_another_program_is_refused_and_left_untouched(path):
    run(path, "CREATE TABLE recipe (name TEXT)", "PRAGMA user_version = 1")
    before = path.read_bytes()
    with pytest.raises(JournalDamaged, match="another program"):
        Journal.open(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("n_bytes", [7, 512, 40_000])
def test_random_bytes_are_refused_and_left_untouched(path, n_bytes):
    noise = random.Random(n_bytes).randbytes(n_bytes)
    path.write_bytes(noise)
    with pytest.raises(JournalDamaged, match="damaged or not a gaugelink journal") as caught:
        Journal.open(path)
    assert path.read_bytes() == noise
    assert caught.value.path == str(path)
    assert caught.value.hint


def use(path):
    with Journal.open(path) as journal:
        journal.load(1)
        return len(list(journal.events(1)))


@pytest.mark.parametrize("part", [0.1, 0.5, 0.9])
def test_a_truncated_journal_is_refused(filled, part):
    whole = filled.read_bytes()
    assert use(filled) == 600
    filled.write_bytes(whole[: int(len(whole) * part)])
    with pytest.raises(JournalDamaged):
        use(filled)


def test_noise_in_the_middle_never_passes_for_a_job(filled):
    """Each page but the first is overwritten in turn: refused, or the job is whole."""
    whole = filled.read_bytes()
    refused = 0
    for start in range(4096, len(whole), 4096):
        noise = random.Random(start).randbytes(4096)
        filled.write_bytes(whole[:start] + noise + whole[start + 4096 :])
        try:
            assert use(filled) == 600
        except JournalDamaged:
            refused += 1
    assert refused >= len(whole) // 4096 // 2


def test_a_missing_table_is_damage(filled):
    run(filled, "DROP TABLE entry")
    with pytest.raises(JournalDamaged, match="entry"):
        use(filled)
