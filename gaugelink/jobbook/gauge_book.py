"""Which gauges were read before, and how: so that nobody has to say it twice.

The book lies in the journal's file, so that one file is the whole backup. It keeps one
row for each gauge, under the identity that stays when the gauge is plugged in elsewhere.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import final

from gaugelink.jobbook.book import Book, storable, translated
from gaugelink.jobbook.codec import UnreadableRow
from gaugelink.model import GaugeKind, Sends
from gaugelink.units import LengthUnit

_SLOWEST_TICK = timedelta(seconds=1)


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
                    "detail": _encode(gauge),
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
            return tuple(_decode(*row) for row in rows)


def _encode(gauge: KnownGauge) -> str:
    return json.dumps(
        {
            "gauge_id": gauge.gauge_id,
            "address": gauge.address,
            "format": gauge.format,
            "kind": gauge.kind,
            "sends": gauge.sends,
            "unit": gauge.unit,
            "options": dict(gauge.options),
        }
    )


def _decode(detail: str, first_used_utc: str, last_used_utc: str) -> KnownGauge:
    try:
        values = json.loads(detail)
        return KnownGauge(
            gauge_id=str(values["gauge_id"]),
            address=str(values["address"]),
            format=str(values["format"]),
            kind=GaugeKind(values["kind"]) if values["kind"] else None,
            sends=Sends(values["sends"]),
            unit=LengthUnit(values["unit"]) if values["unit"] else None,
            options={str(key): str(value) for key, value in values["options"].items()},
            first_used_utc=first_used_utc,
            last_used_utc=last_used_utc,
        )
    except (KeyError, TypeError, ValueError, AttributeError) as exc:
        raise UnreadableRow(f"known gauge: {type(exc).__name__} {exc}") from exc
