"""What the book keeps of each gauge: how it was read, and its record with all its checks.

So nobody has to say twice how a gauge is read. Both lie under the identity that stays when
the gauge is plugged in elsewhere, and outlive the jobs. A record is replaced when somebody
changes it; a check is only ever added.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import final

from gaugelink.gauge_record import (
    CertificatePoint,
    GaugeCheck,
    GaugeRecord,
    JawFlats,
    LengthFound,
    ZeroFound,
)
from gaugelink.jobbook.book import Book, now_utc, storable, translated
from gaugelink.jobbook.codec import Form, declared, decode, encode, text
from gaugelink.model import GaugeKind, Sends
from gaugelink.units import LengthUnit

_SLOWEST_TICK = timedelta(seconds=1)
REPLACE_RECORD = (
    "INSERT INTO gauge_record VALUES (?1, ?2, ?3) ON CONFLICT (gauge_id) DO UPDATE"
    " SET changed_utc = excluded.changed_utc, detail = excluded.detail"
)
_APPEND = "INSERT INTO gauge_check SELECT ?1, 1 + count(*), ?2 FROM gauge_check WHERE gauge_id = ?1"


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownGauge:
    """How a gauge was last read with success.

    Args:
        gauge_id: its stable identity.
        address: finds it again, without any option.
        format: the format that it sends.
        kind: what it is; None when nobody has said.
        sends: when it sends.
        unit: what it shows, where the format does not carry it; else None.
        options: the other options of its address.
        first_used_utc: when it first gave a reading, ISO 8601; set by the book.
        last_used_utc: when it last began to.
    """

    gauge_id: str
    address: str
    format: str
    kind: GaugeKind | None
    sends: Sends
    unit: LengthUnit | None = None
    options: Mapping[str, str] = field(default_factory=dict)
    first_used_utc: str = ""
    last_used_utc: str = ""


def _texts(values: Mapping[str, object]) -> dict[str, str]:
    return {text(name): text(value) for name, value in values.items()}


declared(
    Form(is_whole=True, readers={Mapping[str, str]: _texts}),
    {"known gauge": KnownGauge},
    apart=("first_used_utc", "last_used_utc"),
)
_RECORD = Form()
declared(_RECORD, {"gauge record": GaugeRecord}, apart=("checks",))
declared(
    _RECORD,
    {
        "gauge check": GaugeCheck,
        "certificate point": CertificatePoint,
        "jaw flats": JawFlats,
        "zero found": ZeroFound,
        "length found": LengthFound,
    },
)


@final
class GaugeBook(Book):
    """The gauges that are known."""

    def remember(self, gauge: KnownGauge) -> None:
        """Keep how a gauge is read, durably; what was known of it before is replaced."""
        with self._writing() as connection:
            connection.execute(
                "INSERT INTO known_gauge VALUES (:gauge, :detail, :now, :now)"
                " ON CONFLICT (gauge_id) DO UPDATE"
                " SET detail = excluded.detail, last_used_utc = excluded.last_used_utc",
                {
                    "gauge": storable(gauge.gauge_id),
                    "detail": encode(gauge),
                    "now": self._stamp_utc(),
                },
            )

    def _stamp_utc(self) -> str:
        """Return the present time, later than the last stamp: a clock may tick too slowly."""
        now = datetime.now(UTC)
        query = "SELECT max(last_used_utc) FROM known_gauge"
        (latest,) = self._connection.execute(query).fetchone()
        if latest and now <= (last := datetime.fromisoformat(latest)) < now + _SLOWEST_TICK:
            now = last + timedelta(microseconds=1)
        return now.isoformat(timespec="microseconds")

    def forget(self, gauge_id: str) -> bool:
        """Forget a gauge; return False when it was not known."""
        with translated(self._path):
            cursor = self._connection.execute(
                "DELETE FROM known_gauge WHERE gauge_id = ?", (storable(gauge_id),)
            )
        return cursor.rowcount > 0

    def gauges(self) -> tuple[KnownGauge, ...]:
        """Return all that are known, the last used one first."""
        with translated(self._path):
            rows = self._connection.execute(
                "SELECT detail, first_used_utc, last_used_utc FROM known_gauge"
                " ORDER BY last_used_utc DESC, gauge_id"
            )
            return tuple(
                decode(KnownGauge, detail, first_used_utc=first, last_used_utc=last)
                for detail, first, last in rows
            )


@final
class GaugeRecords(Book):
    """The records that are kept."""

    def save(self, record: GaugeRecord) -> None:
        """Keep a record, durably, in place of the one before; its checks stay as they are."""
        with translated(self._path):
            self._connection.execute(REPLACE_RECORD, _row(record))

    def add_check(self, record: GaugeRecord, check: GaugeCheck) -> None:
        """Keep a record, durably, with one more check; both of them, or neither."""
        with self._writing() as connection:
            connection.execute(REPLACE_RECORD, _row(record))
            connection.execute(_APPEND, (storable(record.gauge_id), encode(check)))

    def load(self, gauge_id: str) -> GaugeRecord | None:
        """Return the record of a gauge with its checks, the newest first; None if there is none."""
        return next(iter(self._load("WHERE gauge_id = ?", (storable(gauge_id),))), None)

    def all(self) -> tuple[GaugeRecord, ...]:
        """Return all records, in order of the gauges' identities."""
        return self._load("ORDER BY gauge_id", ())

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
    return storable(record.gauge_id), now_utc(), encode(record)


def decode_record(detail: str, checks: tuple[GaugeCheck, ...] = ()) -> GaugeRecord:
    """Return the record that a row holds, with its checks; raises ``UnreadableRow``."""
    return decode(GaugeRecord, detail, checks=checks)


def decode_check(detail: str) -> GaugeCheck:
    """Return the check that a row holds; raises ``UnreadableRow``."""
    return decode(GaugeCheck, detail)
