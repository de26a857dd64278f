"""The tables of the journal's file, and opening it: is it one of ours, and up to date?

The tables are the steps that bring a file from one schema to the next. A schema that was
released is never changed, for a file of it is out there: a new one is a new step.
"""

from __future__ import annotations

import errno
import os
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from gaugelink.errors import JournalDamaged, refuse_special

# FULL: a commit returns when the rows are on the disk. fullfsync: on macOS a
# plain fsync stops at the drive's own cache; elsewhere the line does nothing.
SETTINGS = (
    "PRAGMA journal_mode = WAL",
    "PRAGMA synchronous = FULL",
    "PRAGMA fullfsync = ON",
    "PRAGMA foreign_keys = ON",
)
BUSY_TIMEOUT_S = 10.0  # an import of many thousand jobs takes some seconds


def connect(
    path: Path, busy_timeout_s: float = BUSY_TIMEOUT_S, *, to_read: bool = False
) -> sqlite3.Connection:
    """Open a journal's file in autocommit mode; make it, and its folder, if there is none.

    Raises:
        JournalDamaged: not a journal, or made by a newer gaugelink.
        OSError: the folder cannot be made, or the file is read-only.
        sqlite3.Error: anything else.
    """
    if to_read and _is_missing(path):
        return _empty(path)
    if to_read and _is_at_rest_and_read_only(path):
        return _connect_to_read(path)
    refuse_special(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    if os.path.exists(path) and not os.access(path, os.W_OK):
        # SQLite would open it, and make log files beside it that are read-only as well:
        # they would stay so after the person has set the journal's own permission right.
        raise PermissionError(errno.EACCES, "the file is read-only")
    connection = sqlite3.connect(path, timeout=busy_timeout_s, isolation_level=None)
    try:
        prepare(connection, path)
    except sqlite3.OperationalError as exc:
        connection.close()
        # A full disk has no room for SQLite's own files, which a look at a file at rest does
        # without; a file that is locked is not at rest.
        if to_read and exc.sqlite_errorcode & 0xFF in _NO_ROOM and _is_at_rest(path):
            return _connect_to_read(path)
        raise
    except BaseException:
        connection.close()
        raise
    return connection


def outdate_log(connection: sqlite3.Connection) -> None:
    """Make the log of a file that is about to be closed worthless, once the file has it all.

    SQLite then deletes the log. On FAT a power cut may leave the beginning of a deleted file: the
    next start would play old rows over new ones. A commit now begins the log anew, with one page
    that the file has as well, and what lies behind it belongs to no log any more.
    """
    # As where another program writes, the disk is full, or the connection is closed already.
    with suppress(sqlite3.Error):
        connection.execute("PRAGMA busy_timeout = 0")
        _, in_log, in_file = connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
        if 0 < in_log == in_file:
            (version,) = connection.execute("PRAGMA user_version").fetchone()
            connection.execute(f"PRAGMA user_version = {version}")


_NO_ROOM = (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_FULL)


def _is_at_rest(path: Path) -> bool:
    """Tell whether nothing of a journal lies in a log beside it, and so nobody has it open."""
    log = Path(f"{path}-wal")
    return not log.exists() or log.stat().st_size == 0


def _is_missing(path: Path) -> bool:
    """Tell whether a file could be made there; what is wrong on the way to it is raised."""
    try:
        path.stat()
    except FileNotFoundError:
        return True
    return False


def _empty(path: Path) -> sqlite3.Connection:
    """Return an empty journal in memory: who only looks leaves no file behind."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    prepare(connection, path)
    return connection


def _is_at_rest_and_read_only(path: Path) -> bool:
    """Tell whether we may not write to a journal that, for want of a log, nobody has open."""
    writable = all(os.access(each, os.W_OK) for each in (path, path.parent))
    return os.path.exists(path) and not writable and not os.path.exists(f"{path}-wal")


def _connect_to_read(path: Path) -> sqlite3.Connection:
    # "immutable" makes no log beside the file, where none can be made.
    uri = f"{path.absolute().as_uri()}?mode=ro&immutable=1"
    connection = sqlite3.connect(uri, uri=True, isolation_level=None)
    try:
        if schema_of(connection, path) < SCHEMA:
            raise PermissionError(errno.EACCES, "it is of an older gaugelink, and read-only")
    except BaseException:
        connection.close()
        raise
    return connection


def prepare(connection: sqlite3.Connection, path: Path) -> None:
    """Make a new journal in an empty file, or check the one that is there.

    An older journal is brought up to date, in one transaction. A file that is not ours, or
    is newer than we are, is left as it was.

    Raises:
        JournalDamaged: not a journal, or made by a newer gaugelink.
    """
    if schema_of(connection, path) < SCHEMA:
        _bring_up_to_date(connection, path)
    for setting in SETTINGS:
        connection.execute(setting)


def schema_of(connection: sqlite3.Connection, path: Path) -> int:
    """Return the schema of a journal, 0 for an empty file.

    Raises:
        JournalDamaged: not a journal, or made by a newer gaugelink.
    """
    if _number(connection, "SELECT count(*) FROM sqlite_master") == 0:
        return 0
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
    return version


def _bring_up_to_date(connection: sqlite3.Connection, path: Path) -> None:
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Asked again under the lock: another program may have been quicker.
        for step in range(schema_of(connection, path) + 1, SCHEMA + 1):
            for statement in STEPS[step]:
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {SCHEMA}")
        connection.execute("COMMIT")
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def _number(connection: sqlite3.Connection, query: str) -> int:
    (value,) = connection.execute(query).fetchone()
    return int(value)


SCHEMA = 3
APPLICATION_ID = 0x47614C6B  # "GaLk": tells our files from any other SQLite file
# An entry is keyed by job and number: a job's entries lie together, and two
# programs that write one job collide instead of mixing their entries.
# The index holds the acts alone, because a job is opened from its acts and a
# stream may leave a thousand readings between two of them.
FIRST_TABLES = (
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
# The first files of schema 1 lack the tables of gauges, later ones have them.
GAUGE_TABLES = (
    """CREATE TABLE IF NOT EXISTS known_gauge (
        gauge_id TEXT PRIMARY KEY,
        detail TEXT NOT NULL,
        first_used_utc TEXT NOT NULL,
        last_used_utc TEXT NOT NULL
    ) WITHOUT ROWID""",
    """CREATE TABLE IF NOT EXISTS gauge_record (
        gauge_id TEXT PRIMARY KEY,
        changed_utc TEXT NOT NULL,
        detail TEXT NOT NULL
    ) WITHOUT ROWID""",
    """CREATE TABLE IF NOT EXISTS gauge_check (
        gauge_id TEXT NOT NULL REFERENCES gauge_record,
        number INTEGER NOT NULL,
        detail TEXT NOT NULL,
        PRIMARY KEY (gauge_id, number)
    ) WITHOUT ROWID""",
)
# The identity of a job stays with it wherever it is copied to; that of an older job is
# made of what the file says, so that two copies of one file agree about it.
# A fact is what the person or a sizing says of a job; like entries, facts are only
# added, so that every version stays. A dimension is what earlier jobs are found by: it
# can be made again from entries and facts, and ``indexed`` says up to which of them it
# was. Of the stock, only what is on hand changes.
SECOND_TABLES = (
    *GAUGE_TABLES,
    "ALTER TABLE job ADD COLUMN identity TEXT",
    "UPDATE job SET identity = created_utc || ' ' || job_id",
    "CREATE UNIQUE INDEX job_of ON job (identity)",
    """CREATE TABLE fact (
        job_id INTEGER NOT NULL REFERENCES job,
        number INTEGER NOT NULL,
        written_utc TEXT NOT NULL,
        name TEXT NOT NULL,
        detail TEXT NOT NULL,
        PRIMARY KEY (job_id, number)
    ) WITHOUT ROWID""",
    "CREATE INDEX named ON fact (name, job_id, number)",
    """CREATE TABLE dimension (
        job_id INTEGER NOT NULL REFERENCES job,
        name TEXT NOT NULL,
        value_mm REAL NOT NULL,
        u_mm REAL NOT NULL,
        PRIMARY KEY (job_id, name)
    ) WITHOUT ROWID""",
    "CREATE INDEX size_of ON dimension (name, value_mm)",
    """CREATE TABLE indexed (
        job_id INTEGER PRIMARY KEY REFERENCES job,
        n_entries INTEGER NOT NULL,
        n_facts INTEGER NOT NULL
    )""",
    """CREATE TABLE stock_spring (
        item TEXT PRIMARY KEY,
        position INTEGER NOT NULL,
        on_hand INTEGER NOT NULL CHECK (on_hand >= 0),
        changed_utc TEXT NOT NULL,
        detail TEXT NOT NULL
    ) WITHOUT ROWID""",
    """CREATE TABLE stock_use (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        item TEXT NOT NULL,
        job_id INTEGER REFERENCES job,
        used_utc TEXT NOT NULL,
        count INTEGER NOT NULL
    )""",
)
# What a list said of a spring when it was read last; empty where that is not known.
THIRD_TABLES = ("ALTER TABLE stock_spring ADD COLUMN listed INTEGER CHECK (listed >= 0)",)
# What brings a file from schema n - 1 to schema n; an empty file is at schema 0.
STEPS = {1: FIRST_TABLES, 2: SECOND_TABLES, 3: THIRD_TABLES}


def tables_in(connection: sqlite3.Connection) -> frozenset[str]:
    """Return the names of the tables that a file has."""
    rows = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
    return frozenset(name for (name,) in rows if not name.startswith("sqlite_"))


def tables_of(version: int) -> frozenset[str]:
    """Return the names of the tables that every journal of a schema has."""
    with closing(sqlite3.connect(":memory:")) as connection:
        for step in range(1, version + 1):
            for statement in STEPS[step]:
                connection.execute(statement)
        return tables_in(connection)
