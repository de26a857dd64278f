"""The tables of the journal, as the steps that bring a file from one schema to the next.

A schema that was released is never changed: a file of it is out there. A new one is a
new step.
"""

from __future__ import annotations

SCHEMA = 2
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

# What brings a file from schema n - 1 to schema n; an empty file is at schema 0.
STEPS = {1: FIRST_TABLES, 2: SECOND_TABLES}
