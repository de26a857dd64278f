"""The disk fills, turns read-only or is locked, for real where the system lets us."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing, contextmanager
from itertools import count
from pathlib import Path

import pytest
from jobbook_samples import SETUP, begin, heard, keep, stored, taken

from gaugelink.errors import JournalBusy, JournalError, JournalFull, JournalNotWritable
from gaugelink.jobbook.entries import Item
from gaugelink.jobbook.journal import Journal

SAFE = "everything acknowledged so far is safe in it"


@pytest.fixture
def small_disk(tmp_path):
    if not (sys.platform == "linux" and os.geteuid() == 0):
        pytest.skip("only root on Linux may mount a small disk")
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=1m", "gaugelink-test", folder]
    if subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("this system does not let root mount a small disk")
    yield folder
    subprocess.run(["umount", "--lazy", folder], check=True)


def remount(folder, mode):
    subprocess.run(["mount", "-o", f"remount,{mode}", folder], check=True)


def keep_until_refused(journal, job_id):
    """Return what was acknowledged, the item that was refused, and the error."""
    acknowledged: list[Item] = []
    for number in count():
        item = taken(number)
        try:
            keep(journal, job_id, item)
        except JournalError as error:
            return acknowledged, item, error
        acknowledged.append(item)
    raise AssertionError


def test_any_beginning_of_the_log_that_closing_deletes_does_no_harm(tmp_path):
    path = tmp_path / "journal.sqlite"
    with closing(sqlite3.connect(path)) as other, Journal.open(path) as journal:
        job_id = begin(journal)
        other.execute("PRAGMA schema_version").fetchone()  # the log stays as long as this is open
        for number in range(20):
            keep(journal, job_id, taken(number))
        expected = stored(journal, job_id)
        journal.close()
        other.execute("PRAGMA wal_checkpoint")  # as SQLite does before it deletes the log
        log = Path(f"{path}-wal").read_bytes()
        file = path.read_bytes()
    assert len(log) > 10 * 4096
    for length in range(0, len(log) + 1, 2048):
        left = tmp_path / f"left{length}.sqlite"
        left.write_bytes(file)
        Path(f"{left}-wal").write_bytes(log[:length])
        with Journal.open(left) as journal:
            assert stored(journal, job_id) == expected


def test_a_disk_that_fills_keeps_all_that_was_acknowledged_and_no_more(small_disk):
    path = small_disk / "journal.sqlite"
    ballast = small_disk / "ballast"
    ballast.write_bytes(bytes(500_000))
    with Journal.open(path) as journal:
        job_id = begin(journal)
        acknowledged, refused, error = keep_until_refused(journal, job_id)
        assert isinstance(error, JournalFull)
        assert str(path) in str(error)
        assert SAFE in str(error)
        assert "Free some space" in error.hint
        assert len(acknowledged) > 20
        assert stored(journal, job_id) == acknowledged
    with Journal.open(path) as journal:  # still full
        assert list(journal.load(job_id).acts) == acknowledged
        ballast.unlink()
        keep(journal, job_id, refused)
        assert stored(journal, job_id) == [*acknowledged, refused]


def test_a_new_journal_on_a_full_disk(small_disk):
    (small_disk / "ballast").write_bytes(bytes(shutil.disk_usage(small_disk).free))
    with pytest.raises(JournalFull) as caught:
        Journal.open(small_disk / "journal.sqlite")
    assert "--journal FILE" in caught.value.hint


def test_a_file_that_may_not_grow_keeps_all_that_was_acknowledged(tmp_path):
    """The same on every system: SQLite is told that the file has reached its size."""
    path = tmp_path / "journal.sqlite"
    with Journal.open(path) as journal:
        job_id = begin(journal)
        journal._connection.execute("PRAGMA max_page_count = 30")
        acknowledged, refused, error = keep_until_refused(journal, job_id)
        assert isinstance(error, JournalFull)
        assert SAFE in str(error)
        assert len(acknowledged) > 20
        assert stored(journal, job_id) == acknowledged
        with pytest.raises(JournalFull):  # and the refusal stands
            keep(journal, job_id, *[heard(n) for n in range(100)])
        assert stored(journal, job_id) == acknowledged
    with Journal.open(path) as journal:
        assert list(journal.load(job_id).acts) == acknowledged
        keep(journal, job_id, refused)
        assert stored(journal, job_id) == [*acknowledged, refused]


def filled(path):
    with Journal.open(path) as journal:
        job_id = begin(journal)
        keep(journal, job_id, taken(1), taken(2))
    return job_id


def refuse_use(path, job_id):
    """Open and write as ``measure`` would; where it fails does not matter, but it must."""
    with Journal.open(path) as journal:
        keep(journal, job_id, taken(3))


def check_not_writable(path, job_id):
    with pytest.raises(JournalNotWritable) as caught:
        refuse_use(path, job_id)
    assert str(path) in str(caught.value)
    assert SAFE in str(caught.value)
    assert "Allow writing" in caught.value.hint


def check_intact(path, job_id):
    with Journal.open(path) as journal:
        assert journal.load(job_id).acts == (taken(1), taken(2))
        keep(journal, job_id, taken(3))
        assert stored(journal, job_id) == [taken(1), taken(2), taken(3)]


def test_a_read_only_disk(small_disk):
    path = small_disk / "journal.sqlite"
    job_id = filled(path)
    remount(small_disk, "ro")
    try:
        check_not_writable(path, job_id)
        with pytest.raises(JournalNotWritable, match="nothing was kept"):
            Journal.open(small_disk / "new" / "journal.sqlite")
    finally:
        remount(small_disk, "rw")
    check_intact(path, job_id)


@pytest.mark.parametrize("what", ["file", "folder"])
def test_a_file_or_folder_without_permission_to_write(tmp_path, what):
    if os.name != "posix" or os.geteuid() == 0:
        pytest.skip("root may write whatever the permissions say; Windows has other ones")
    path = tmp_path / "bench" / "journal.sqlite"
    job_id = filled(path)
    target = path if what == "file" else path.parent
    mode = target.stat().st_mode
    target.chmod(mode & ~0o222)
    try:
        check_not_writable(path, job_id)
    finally:
        target.chmod(mode)
    check_intact(path, job_id)


def test_a_journal_that_turns_read_only_during_a_job(tmp_path):
    path = tmp_path / "journal.sqlite"
    job_id = filled(path)
    with Journal.open(path) as journal:
        journal._connection.execute("PRAGMA query_only = ON")
        with pytest.raises(JournalNotWritable):
            keep(journal, job_id, taken(3))
        with pytest.raises(JournalNotWritable):
            journal.create_job(SETUP)
        assert stored(journal, job_id) == [taken(1), taken(2)]
    check_intact(path, job_id)


HOLD = """
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
for statement in sys.argv[2:]:
    connection.execute(statement)
print("held", flush=True)
sys.stdin.read()
"""


@contextmanager
def held(path, *statements):
    """Let another program hold the lock; ``release`` inside the block ends it early."""
    program = subprocess.Popen(
        [sys.executable, "-c", HOLD, path, *statements],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    with program:
        assert program.stdin
        assert program.stdout
        assert program.stdout.readline().strip() == b"held"
        yield program.stdin.close
    assert program.returncode == 0


def test_another_program_writes_for_too_long(tmp_path):
    path = tmp_path / "journal.sqlite"
    job_id = filled(path)
    with Journal.open(path, busy_timeout_s=0.05) as journal:
        with held(path, "BEGIN IMMEDIATE"):
            with pytest.raises(JournalBusy) as caught:
                keep(journal, job_id, taken(3))
            assert stored(journal, job_id) == [taken(1), taken(2)]  # reading goes on
        assert SAFE in str(caught.value)
        assert "Close the other program" in caught.value.hint
    check_intact(path, job_id)


def test_another_program_keeps_the_file_to_itself(tmp_path):
    path = tmp_path / "journal.sqlite"
    job_id = filled(path)
    with (
        held(path, "PRAGMA locking_mode = EXCLUSIVE", "BEGIN EXCLUSIVE"),
        pytest.raises(JournalBusy),
    ):
        Journal.open(path, busy_timeout_s=0.05)
    check_intact(path, job_id)


def test_a_short_lock_is_waited_out(tmp_path):
    """The other program lets go when its input ends, which is before we give up."""
    path = tmp_path / "journal.sqlite"
    job_id = filled(path)
    with Journal.open(path, busy_timeout_s=20) as journal:
        with held(path, "BEGIN IMMEDIATE") as release:
            release()
            keep(journal, job_id, taken(3))
        assert stored(journal, job_id) == [taken(1), taken(2), taken(3)]


def test_what_was_kept_is_shown_where_sqlite_has_no_room_for_its_own_files(tmp_path):
    path = tmp_path / "journal.sqlite"
    with Journal.open(path) as journal:
        keep(journal, begin(journal), taken(1))
    (tmp_path / "journal.sqlite-shm").symlink_to("no/such/file")  # as on a full disk
    with pytest.raises(JournalError):
        Journal.open(path)
    with Journal.open(path, to_read=True) as journal:
        assert journal.load(1).acts == (taken(1),)
