"""What every part of the job book does alike: open the journal's file, read, write, close."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from gaugelink.jobbook import schema
from gaugelink.jobbook.failures import translated
from gaugelink.jobbook.place import default_path


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
    """Return the present time as the tables hold it: ISO 8601, UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds")


def storable(text: str) -> str:
    """Escape what UTF-8 cannot hold: bytes that a terminal or a file name brought along."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
