"""The record of each gauge and all its checks, in the journal's file.

A record is replaced when somebody changes it; a check is only ever added.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, replace
from typing import Any, TypeAlias, final

from gaugelink.gauge_record import (
    Anvils,
    CertificatePoint,
    GaugeCheck,
    GaugeRecord,
    JawFlats,
    LengthFound,
    Verdict,
    ZeroFound,
)
from gaugelink.jobbook.book import Book, now_utc, storable, translated
from gaugelink.jobbook.codec import UnreadableRow
from gaugelink.model import GaugeKind

_Fields: TypeAlias = Mapping[str, Callable[[Any], object]]

_REPLACE = (
    "INSERT INTO gauge_record VALUES (?1, ?2, ?3) ON CONFLICT (gauge_id) DO UPDATE"
    " SET changed_utc = excluded.changed_utc, detail = excluded.detail"
)
_APPEND = "INSERT INTO gauge_check SELECT ?1, 1 + count(*), ?2 FROM gauge_check WHERE gauge_id = ?1"


@final
class GaugeRecords(Book):
    """The records that are kept."""

    def save(self, record: GaugeRecord) -> None:
        """Keep a record, durably, in place of the one before; its checks stay as they are."""
        with translated(self._path):
            self._connection.execute(_REPLACE, _row(record))

    def add_check(self, record: GaugeRecord, check: GaugeCheck) -> None:
        """Keep a record, durably, with one more check; both of them, or neither."""
        detail = json.dumps(asdict(check))
        with self._writing() as connection:
            connection.execute(_REPLACE, _row(record))
            connection.execute(_APPEND, (storable(record.gauge_id), detail))

    def load(self, gauge_id: str) -> GaugeRecord | None:
        """Return the record of a gauge with its checks, the newest first; None if there is none."""
        return next(iter(self._load("WHERE gauge_id = ?", (storable(gauge_id),))), None)

    def all(self) -> tuple[GaugeRecord, ...]:
        """Return all records, in order of the gauges' identities."""
        return self._load("ORDER BY gauge_id", ())

    def by_identity(self) -> dict[str, GaugeRecord]:
        """Return all records by the identity of their gauge."""
        return {record.gauge_id: record for record in self.all()}

    def of(self, gauge_ids: Iterable[str]) -> dict[str, GaugeRecord]:
        """Return the records that there are of these gauges, by identity."""
        found = (self.load(gauge_id) for gauge_id in gauge_ids)
        return {record.gauge_id: record for record in found if record is not None}

    def _load(self, which: str, parameters: tuple[str, ...]) -> tuple[GaugeRecord, ...]:
        with translated(self._path):
            rows = self._connection.execute(
                f"SELECT gauge_id, detail FROM gauge_record {which}", parameters
            ).fetchall()
            return tuple(decode_record(detail, self._checks(key)) for key, detail in rows)

    def _checks(self, key: str) -> tuple[GaugeCheck, ...]:
        rows = self._connection.execute(
            "SELECT detail FROM gauge_check WHERE gauge_id = ? ORDER BY number DESC", (key,)
        )
        return tuple(decode_check(detail) for (detail,) in rows)


def _row(record: GaugeRecord) -> tuple[str, str, str]:
    values = asdict(replace(record, checks=()))
    del values["checks"]
    return storable(record.gauge_id), now_utc(), json.dumps(values)


def decode_record(detail: str, checks: tuple[GaugeCheck, ...]) -> GaugeRecord:
    """Return the record that a row holds; raises ``UnreadableRow``."""
    with _unreadable("gauge record"):
        record: GaugeRecord = _made(GaugeRecord, json.loads(detail), checks=checks)
    return record


def decode_check(detail: str) -> GaugeCheck:
    """Return the check that a row holds; raises ``UnreadableRow``."""
    with _unreadable("gauge check"):
        check: GaugeCheck = _made(GaugeCheck, json.loads(detail))
    return check


@contextmanager
def _unreadable(what: str) -> Iterator[None]:
    try:
        yield
    except (KeyError, TypeError, ValueError, AttributeError) as exc:
        raise UnreadableRow(f"{what}: {type(exc).__name__} {exc}") from exc


def _made(cls: type, values: Mapping[str, Any], **more: object) -> Any:
    fields = _FIELDS[cls]
    return cls(**{name: fields[name](value) for name, value in values.items()}, **more)


def _or_none(convert: Callable[[Any], object]) -> Callable[[Any], object]:
    return lambda value: None if value is None else convert(value)


def _one(cls: type) -> Callable[[Any], object]:
    return lambda values: _made(cls, values)


def _several(cls: type) -> Callable[[Any], object]:
    return lambda items: tuple(_made(cls, item) for item in items)


# The fields of each kind as its JSON holds them, and what makes each of them again.
# These names stand in people's files; a float that may be unknown is null there.
_NUMBER = _or_none(float)
_FIELDS: Mapping[type, _Fields] = {
    GaugeRecord: {
        "gauge_id": str,
        "kind": GaugeKind,
        "resolution_mm": _NUMBER,
        "mpe_mm": _NUMBER,
        "shift_mpe_mm": _NUMBER,
        "mpe_source": str,
        "certificate": _several(CertificatePoint),
        "jaw_flats": _or_none(_one(JawFlats)),
        "anvils": _or_none(Anvils),
        "check_interval_days": int,
    },
    CertificatePoint: dict.fromkeys(("size_mm", "correction_mm", "expanded_u_mm", "k"), float),
    JawFlats: dict.fromkeys(("width_mm", "u_mm"), float),
    GaugeCheck: {
        "checked_utc": str,
        "job_id": int,
        "zero": _one(ZeroFound),
        "lengths": _several(LengthFound),
    },
    ZeroFound: {
        **dict.fromkeys(("n", "dof"), int),
        **dict.fromkeys(("mean_mm", "std_mm", "drift_mm", "resolution_mm"), float),
    },
    LengthFound: {
        "n": int,
        "verdict": Verdict,
        "cg": _NUMBER,
        "cgk": _NUMBER,
        **dict.fromkeys(("known_mm", "u_known_mm", "mean_mm", "std_mm", "bias_mm"), float),
        **dict.fromkeys(("u_bias_mm", "mpe_mm", "guard_mm", "tolerance_mm"), float),
    },
}
