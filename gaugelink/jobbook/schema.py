"""The tables of the journal, and the check that a file is one."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from gaugelink.errors import JournalDamaged

SCHEMA = 1
APPLICATION_ID = 0x47614C6B  # "GaLk": tells our files from any other SQLite file

# An entry is keyed by job and number: a job's entries lie together, and two
# programs that write one job collide instead of mixing their entries.
# The index holds the acts alone, because a job is opened from its acts and a
# stream may leave a thousand readings between two of them.
TABLES = (
    """CREATE TABLE job (
        job_id INTEGER PRIMARY KEY AUTOINCREMENT,
        created_utc TEXT NOT NULL,
        title TEXT NOT NULL,
        setup TEXT NOT NULL,
        closed INTEGER NOT NULL DEFAULT 0
    )""",
    """CREATE TABLE gauge (
        job_id INTEGER NOT NULL REFERENCES job,
        gauge_id TEXT NOT NULL,
        position INTEGER NOT NULL,
        info TEXT NOT NULL,
        PRIMARY KEY (job_id, gauge_id)
    ) WITHOUT ROWID""",
    """CREATE TABLE entry (
        job_id INTEGER NOT NULL REFERENCES job,
        number INTEGER NOT NULL,
        written_utc TEXT NOT NULL,
        origin TEXT NOT NULL CHECK (origin IN ('gauge', 'job')),
        kind TEXT NOT NULL,
        raw BLOB,
        detail TEXT NOT NULL,
        PRIMARY KEY (job_id, number)
    ) WITHOUT ROWID""",
    "CREATE INDEX act ON entry (job_id, number) WHERE origin = 'job'",
)

# FULL: a commit returns when the rows are on the disk. fullfsync: on macOS a
# plain fsync stops at the drive's own cache; elsewhere the line does nothing.
SETTINGS = (
    "PRAGMA journal_mode = WAL",
    "PRAGMA synchronous = FULL",
    "PRAGMA fullfsync = ON",
    "PRAGMA foreign_keys = ON",
)


def prepare(connection: sqlite3.Connection, path: Path) -> None:
    """Make a new journal in an empty file, or check the one that is there.

    A file that is not ours, or is newer than we are, is left as it was.

    Args:
        connection: in autocommit mode.
        path: the file, for messages.

    Raises:
        JournalDamaged: not a journal, or made by a newer gaugelink.
    """
    if _is_empty(connection):
        _create(connection)
    _check(connection, path)
    # Schema 2 will bring a schema 1 file up to date here: one BEGIN IMMEDIATE,
    # its statements, the new user_version, COMMIT.
    for setting in SETTINGS:
        connection.execute(setting)


def _is_empty(connection: sqlite3.Connection) -> bool:
    return _number(connection, "SELECT count(*) FROM sqlite_master") == 0


def _create(connection: sqlite3.Connection) -> None:
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Asked again under the lock: another program may have been quicker.
        if _is_empty(connection):
            for statement in TABLES:
                connection.execute(statement)
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {SCHEMA}")
        connection.execute("COMMIT")
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def _check(connection: sqlite3.Connection, path: Path) -> None:
    if _number(connection, "PRAGMA application_id") != APPLICATION_ID:
        raise JournalDamaged(
            f"{path} is a database of another program, and was left untouched.",
            path=str(path),
            hint="Name another file with --journal FILE.",
        )
    version = _number(connection, "PRAGMA user_version")
    if version > SCHEMA:
        raise JournalDamaged(
            f"{path} was made by a newer gaugelink (schema {version}, this one knows "
            f"{SCHEMA}), and was left untouched.",
            path=str(path),
            hint="Update gaugelink, or begin another file with --journal FILE.",
        )


def _number(connection: sqlite3.Connection, query: str) -> int:
    (value,) = connection.execute(query).fetchone()
    return int(value)
