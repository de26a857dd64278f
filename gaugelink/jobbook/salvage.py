"""Reading what can be read of a damaged table: from both ends, and past the bad places."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, TypeAlias

Line: TypeAlias = Mapping[str, Any]  # a row by the names of its columns

_FARTHEST = 1 << 20  # numbers to leap over before the rest is given up


def readable(connection: sqlite3.Connection, table: str, key: Sequence[str]) -> list[Line]:
    """Return the rows of a table that can be read.

    Args:
        connection: to a copy of the damaged file.
        table: its name.
        key: the columns of its primary key.
    """
    found: dict[tuple[Any, ...], Line] = {}
    for direction in ("ASC", "DESC"):
        order = ", ".join(f"{column} {direction}" for column in key)
        for line in _Reader(connection, f"SELECT * FROM {table} ORDER BY {order}"):
            found[tuple(line[column] for column in key)] = line
    return [*found.values()]


def readable_of_job(connection: sqlite3.Connection, table: str, job_id: int) -> list[Line]:
    """Return the numbered rows of one job that can be read, in order."""
    found: dict[int, Line] = {}
    after, leap = 0, 1
    while leap <= _FARTHEST:
        query = f"SELECT * FROM {table} WHERE job_id = ? AND number > ? ORDER BY number"
        reader = _Reader(connection, query, (job_id, after))
        read = {line["number"]: line for line in reader}
        found |= read
        if not reader.is_damaged:
            break
        after, leap = (max(read), 1) if read else (after + leap, 2 * leap)
    query = f"SELECT * FROM {table} WHERE job_id = ? ORDER BY number DESC"
    for line in _Reader(connection, query, (job_id,)):
        found.setdefault(line["number"], line)
    return [found[number] for number in sorted(found)]


class _Reader:
    """Goes through the rows of a query up to the first that cannot be read."""

    def __init__(
        self, connection: sqlite3.Connection, query: str, parameters: Sequence[object] = ()
    ) -> None:
        self._connection = connection
        self._query = query
        self._parameters = parameters
        self.is_damaged = False

    def __iter__(self) -> Iterator[Line]:
        try:
            cursor = self._connection.execute(self._query, self._parameters)
            names = [column[0] for column in cursor.description]
            for row in cursor:
                yield dict(zip(names, row, strict=True))
        except sqlite3.DatabaseError:
            self.is_damaged = True
