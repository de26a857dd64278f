from __future__ import annotations

import errno
import shutil
import sqlite3
from types import SimpleNamespace

import pytest

from gaugelink.errors import (
    JournalBusy,
    JournalDamaged,
    JournalError,
    JournalFull,
    JournalNotWritable,
)
from gaugelink.jobbook.book import translated


def sqlite_error(code, cls=sqlite3.OperationalError):
    error = cls("what SQLite says")
    error.sqlite_errorcode = code
    return error


CASES = [
    (sqlite_error(sqlite3.SQLITE_FULL), JournalFull),
    (OSError(errno.ENOSPC, "No space left on device"), JournalFull),
    (OSError(errno.EDQUOT, "Disk quota exceeded"), JournalFull),
    (sqlite_error(sqlite3.SQLITE_READONLY), JournalNotWritable),
    (sqlite_error(sqlite3.SQLITE_READONLY_CANTINIT), JournalNotWritable),
    (sqlite_error(sqlite3.SQLITE_CANTOPEN_ISDIR), JournalNotWritable),
    (sqlite_error(sqlite3.SQLITE_IOERR_FSYNC), JournalNotWritable),
    (PermissionError(errno.EACCES, "Permission denied"), JournalNotWritable),
    (OSError(errno.EROFS, "Read-only file system"), JournalNotWritable),
    (sqlite_error(sqlite3.SQLITE_BUSY), JournalBusy),
    (sqlite_error(sqlite3.SQLITE_BUSY_RECOVERY), JournalBusy),
    (sqlite_error(sqlite3.SQLITE_LOCKED), JournalBusy),
    (sqlite_error(sqlite3.SQLITE_CORRUPT, sqlite3.DatabaseError), JournalDamaged),
    (sqlite_error(sqlite3.SQLITE_CORRUPT_INDEX, sqlite3.DatabaseError), JournalDamaged),
    (sqlite_error(sqlite3.SQLITE_NOTADB, sqlite3.DatabaseError), JournalDamaged),
    (sqlite3.OperationalError("Could not decode to UTF-8 column"), JournalDamaged),
    (sqlite_error(sqlite3.SQLITE_INTERRUPT), JournalError),
]


@pytest.mark.parametrize(("cause", "expected"), CASES, ids=lambda c: repr(c)[:60])
def test_each_failure_has_its_error_with_path_and_hint(tmp_path, cause, expected):
    path = tmp_path / "journal.sqlite"
    path.touch()
    with pytest.raises(JournalError) as caught, translated(path):
        raise cause
    assert type(caught.value) is expected
    assert caught.value.__cause__ is cause
    assert caught.value.path == str(path)
    assert str(path) in str(caught.value)
    assert "--journal FILE" in caught.value.hint
    if expected is not JournalDamaged:
        assert "everything acknowledged so far is safe in it" in str(caught.value)


@pytest.mark.parametrize(
    ("cause", "is_the_disk"),
    [
        (sqlite_error(sqlite3.SQLITE_IOERR_FSYNC), True),
        (OSError(errno.EIO, "Input/output error"), True),
        (OSError(errno.ENODEV, "No such device"), True),
        (sqlite_error(sqlite3.SQLITE_READONLY), False),
        (PermissionError(errno.EACCES, "Permission denied"), False),
    ],
)
def test_a_disk_that_was_pulled_out_is_not_a_permission(tmp_path, cause, is_the_disk):
    with pytest.raises(JournalNotWritable) as caught, translated(tmp_path / "journal.sqlite"):
        raise cause
    assert ("still plugged in" in caught.value.hint) is is_the_disk
    assert ("Allow writing" in caught.value.hint) is not is_the_disk


@pytest.mark.parametrize("cause", [cause for cause, _ in CASES], ids=lambda c: repr(c)[:60])
def test_a_folder_in_place_of_a_file_is_said_to_be_one(tmp_path, cause):
    with pytest.raises(JournalNotWritable, match="not a file") as caught, translated(tmp_path):
        raise cause
    assert (caught.value.path, caught.value.__cause__) == (str(tmp_path), cause)
    assert str(tmp_path / "journal.sqlite") in caught.value.hint


@pytest.mark.parametrize(
    ("code", "free_bytes", "expected"),
    [
        (sqlite3.SQLITE_IOERR_SHMSIZE, 0, JournalFull),
        (sqlite3.SQLITE_CANTOPEN, 4096, JournalFull),
        (sqlite3.SQLITE_IOERR_WRITE, 10**9, JournalNotWritable),
        (sqlite3.SQLITE_READONLY, 0, JournalNotWritable),
    ],
)
def test_an_io_error_on_a_full_disk_is_a_full_disk(
    tmp_path, monkeypatch, code, free_bytes, expected
):
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: SimpleNamespace(free=free_bytes))
    with pytest.raises(expected), translated(tmp_path / "journal.sqlite"):
        raise sqlite_error(code)


@pytest.mark.parametrize("error", [sqlite3.ProgrammingError("closed"), KeyError("ours")])
def test_a_mistake_of_our_own_is_not_dressed_up(tmp_path, error):
    with pytest.raises(type(error)) as caught, translated(tmp_path / "journal.sqlite"):
        raise error
    assert caught.value is error
