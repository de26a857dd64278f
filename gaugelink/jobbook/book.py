"""What every part of the job book does alike: find and open its file, read, write, close.

This is the one place where trouble with the file becomes an error of ours: SQLite says what
happened in a code; the person needs to know which file, what is safe, and what to do.
"""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self, TypeAlias

from gaugelink.errors import (
    JobNotFound,
    JournalBusy,
    JournalDamaged,
    JournalError,
    JournalFull,
    JournalNotWritable,
)
from gaugelink.jobbook import schema
from gaugelink.jobbook.codec import UnreadableRow

Told: TypeAlias = Callable[[int, int], object]  # how much of long work is done, of how much


def untold(done: int, of: int) -> None:
    """Tell nobody how far long work is."""


class Book:
    """One part of the journal's file; a context manager.

    Each method that touches the file may raise a ``JournalError``, as those of
    ``Journal`` do.

    Args:
        path: the journal's file, which is made if there is none; None for the usual one.
        busy_timeout_s: how long to wait for another program's lock, in seconds.
        to_read: nothing will be written: none is made, and one that is read-only will do.
    """

    def __init__(
        self,
        path: Path | None = None,
        *,
        busy_timeout_s: float = schema.BUSY_TIMEOUT_S,
        to_read: bool = False,
    ) -> None:
        self._path = path or default_path()
        with translated(self._path):
            self._connection = schema.connect(self._path, busy_timeout_s, to_read=to_read)

    @classmethod
    def beside(cls, opened: Book) -> Self:
        """Return another part of a file that is open; it closes with ``opened``.

        A ``Journal`` gathers before it writes, and is always the one that was opened.
        """
        book = cls.__new__(cls)
        book._path, book._connection = opened._path, opened._connection
        return book

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    @property
    def path(self) -> Path:
        """The file."""
        return self._path

    def close(self) -> None:
        """Close the file; safe to call twice."""
        schema.outdate_log(self._connection)
        self._connection.close()

    @contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        """Let several queries see one and the same state of the file."""
        with translated(self._path), transaction(self._connection, "BEGIN"):
            yield self._connection

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """Make what the block writes durable: all of it, or nothing."""
        with translated(self._path), transaction(self._connection, "BEGIN IMMEDIATE"):
            yield self._connection


@contextmanager
def transaction(connection: sqlite3.Connection, begin: str) -> Iterator[None]:
    """Commit what the block did, or roll it back when it raised."""
    connection.execute(begin)
    try:
        yield
        connection.execute("COMMIT")
    finally:
        if connection.in_transaction:
            with suppress(sqlite3.Error):
                connection.execute("ROLLBACK")


def now_utc() -> str:
    """Return the present time as the tables hold it."""
    return as_utc(time.time())


def as_utc(moment_s: float) -> str:
    """Return seconds since 1970 as the tables hold a time: ISO 8601, UTC, to the millisecond."""
    return datetime.fromtimestamp(moment_s, UTC).isoformat(timespec="milliseconds")


def storable(text: str) -> str:
    """Escape what UTF-8 cannot hold: bytes that a terminal or a file name brought along."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


_BY_CODE: Mapping[int, type[JournalError]] = {
    sqlite3.SQLITE_FULL: JournalFull,
    sqlite3.SQLITE_READONLY: JournalNotWritable,
    sqlite3.SQLITE_CANTOPEN: JournalNotWritable,
    sqlite3.SQLITE_PERM: JournalNotWritable,
    sqlite3.SQLITE_IOERR: JournalNotWritable,
    sqlite3.SQLITE_BUSY: JournalBusy,
    sqlite3.SQLITE_LOCKED: JournalBusy,
    sqlite3.SQLITE_PROTOCOL: JournalBusy,
    sqlite3.SQLITE_CORRUPT: JournalDamaged,
    sqlite3.SQLITE_NOTADB: JournalDamaged,
    sqlite3.SQLITE_ERROR: JournalDamaged,  # a table of ours is missing
}
_FULL_ERRNOS = frozenset({errno.ENOSPC, errno.EDQUOT})
_ROOM_BYTES = 64 * 1024  # SQLite's shared memory file alone takes 32 KiB
_SAFE = "everything acknowledged so far is safe in it"
_SENTENCES: Mapping[type[JournalError], str] = {
    JournalFull: "The disk is full: no room for {path} ({cause}); {kept}.",
    JournalNotWritable: "{path} cannot be written to ({cause}); {kept}.",
    JournalBusy: "Another program holds {path} locked ({cause}); {kept}.",
    JournalDamaged: "{path} is damaged or not a gaugelink journal ({cause}); it was left as it is.",
    JournalError: "{path} cannot be used ({cause}); {kept}.",
}
_HINTS: Mapping[type[JournalError], str] = {
    JournalFull: "Free some space and open the job again, or keep a new one elsewhere with "
    "--journal FILE.",
    JournalNotWritable: "Allow writing to the file and its folder, or keep the journal elsewhere "
    "with --journal FILE.",
    JournalBusy: "Close the other program and try again, or use another file with --journal FILE.",
    JournalDamaged: "'gaugelink jobs --restore BACKUP' puts a backup in its place, 'gaugelink jobs "
    "--rescue NEW.sqlite' copies what can still be read, --journal FILE begins another.",
    JournalError: "Keep the journal elsewhere with --journal FILE.",
}
# A stick that was pulled out, or a disk that fails: no permission would help.
_DISK_ERRNOS = frozenset({errno.EIO, errno.ENODEV, errno.ENXIO})
_DISK_HINT = (
    "Look whether its disk is still plugged in and sound, then open the job again; or use another "
    "file with --journal FILE."
)


@contextmanager
def translated(path: Path, kept: str = "", *, option: str = "--journal") -> Iterator[None]:
    """Turn SQLite's and the system's errors inside the block into journal errors.

    Misuse of the connection by our own code (``ProgrammingError``) passes through. ``kept``
    says what is safe all the same; empty for what a journal keeps. ``option`` is where the file
    was named.

    Raises:
        JournalError: the branch that fits, with the path, what is safe and a hint.
    """
    try:
        yield
    except sqlite3.ProgrammingError:
        raise
    except OverflowError as exc:  # a number beyond 64 bits
        raise job_not_found(path, None) from exc
    except sqlite3.Error as exc:
        raise _said_of(option, _from_sqlite(path, exc, kept)) from exc
    except UnreadableRow as exc:
        raise _error(JournalDamaged, path, str(exc), kept) from exc
    except OSError as exc:
        cls = JournalFull if exc.errno in _FULL_ERRNOS else JournalNotWritable
        hint = _DISK_HINT if exc.errno in _DISK_ERRNOS else ""
        error = _error(cls, path, exc.strerror or str(exc), kept, hint)
        raise error if hint else _said_of(option, error) from exc


def _said_of(option: str, error: JournalError) -> JournalError:
    """Let the hint name the option that the file came by."""
    if option != "--journal":
        error.hint = f"Name another file with {option} FILE, in a folder that is there and yours."
    return error


def job_not_found(path: Path, job_id: int | None) -> JobNotFound:
    """Return the error for a job number that no journal holds, or not this one."""
    return JobNotFound(
        f"No job {'with such a number' if job_id is None else job_id} in {path}.",
        path=str(path),
        hint="'gaugelink jobs' lists them.",
    )


def job_taken_over(path: Path, job_id: int) -> JournalBusy:
    """Return the error for a job that another program wrote to since we opened it."""
    return JournalBusy(
        f"Another gaugelink is writing job {job_id} in {path}; {_SAFE}.",
        path=str(path),
        hint="Close the other one, then open the job again.",
    )


def _from_sqlite(path: Path, exc: sqlite3.Error, kept: str) -> JournalError:
    # The code is missing when the sqlite3 module itself cannot decode a text.
    code = getattr(exc, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT) & 0xFF
    cls = _BY_CODE.get(code, JournalError)
    # On a full disk SQLite's own small files cannot be made or grown, which it
    # reports as something else.
    if code in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN) and _disk_is_full(path.parent):
        cls = JournalFull
    fails = cls is JournalNotWritable and code == sqlite3.SQLITE_IOERR
    return _error(cls, path, str(exc), kept, _DISK_HINT if fails else "")


def _disk_is_full(folder: Path) -> bool:
    try:
        free_bytes = shutil.disk_usage(folder).free
    except OSError:
        return False
    # A disk may be full and read-only at once; then the second is what to tell.
    return free_bytes < _ROOM_BYTES and os.access(folder, os.W_OK)


def _error(
    cls: type[JournalError], path: Path, cause: str, kept: str, hint: str = ""
) -> JournalError:
    if os.path.isdir(path):
        return _is_a_folder(path)
    kept = kept or (_SAFE if os.path.exists(path) else "nothing was kept there yet")
    message = _SENTENCES[cls].format(path=path, cause=cause, kept=kept)
    return cls(message, path=str(path), hint=hint or _HINTS[cls])


def _is_a_folder(path: Path) -> JournalNotWritable:
    return JournalNotWritable(
        f"{path} is a folder, not a file.",
        path=str(path),
        hint=f"Name a file, such as {path / 'journal.sqlite'}.",
    )


HOME_VARIABLE = "GAUGELINK_HOME"


def data_folder() -> Path:
    """Return the folder of the user's own data; it need not exist yet.

    ``GAUGELINK_HOME`` overrides the platform's usual place.
    """
    home = os.environ.get(HOME_VARIABLE)
    if home:
        return Path(home).expanduser()
    import platformdirs

    return platformdirs.user_data_path("gaugelink", appauthor=False)


def default_path() -> Path:
    """Return the path of the journal in the user's data folder."""
    return data_folder() / "journal.sqlite"
