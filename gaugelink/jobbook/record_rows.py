"""Joining the record of a gauge that comes from elsewhere with the one that is here."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from typing import Any

from gaugelink.jobbook.job_rows import RecordRows, read_record

_NO_JOB = 0  # of a check whose readings are in no job here


def merge_record(
    connection: sqlite3.Connection, record: RecordRows, numbers: Mapping[int, int]
) -> None:
    """Keep the record that was changed last, and the checks of both, in the order of time.

    Args:
        connection: inside a transaction.
        record: the one that comes in.
        numbers: the jobs here by the number that they had there: a check names its job.
    """
    here = read_record(connection, record.gauge_id)
    if here is None or here.changed_utc < record.changed_utc:
        connection.execute(
            "INSERT INTO gauge_record VALUES (?1, ?2, ?3) ON CONFLICT (gauge_id) DO UPDATE"
            " SET changed_utc = excluded.changed_utc, detail = excluded.detail",
            (record.gauge_id, record.changed_utc, record.detail),
        )
    checks = {_told_apart_by(check): check for check in (here.checks if here else ())}
    for check in record.checks:
        checks.setdefault(_told_apart_by(check), _renumbered(check, numbers))
    connection.execute("DELETE FROM gauge_check WHERE gauge_id = ?", (record.gauge_id,))
    in_order = sorted(checks.values(), key=lambda check: str(json.loads(check)["checked_utc"]))
    connection.executemany(
        "INSERT INTO gauge_check VALUES (?, ?, ?)",
        [(record.gauge_id, n, check) for n, check in enumerate(in_order, start=1)],
    )


def _told_apart_by(check: str) -> str:
    """Return a check without its job, whose number is not the same in two files."""
    values: dict[str, Any] = json.loads(check)
    values.pop("job_id", None)
    return json.dumps(values, sort_keys=True)


def _renumbered(check: str, numbers: Mapping[int, int]) -> str:
    values: dict[str, Any] = json.loads(check)
    values["job_id"] = numbers.get(values["job_id"], _NO_JOB)
    return json.dumps(values)
