"""Invented jobs, gauges and events for the tests of the journal."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from contextlib import closing
from pathlib import Path

from gaugelink.capture.acts import Taken
from gaugelink.capture.plan import JobSetup, make_plan
from gaugelink.jobbook.entries import Item
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.sizes import KeptSize, SizeBook
from gaugelink.model import (
    DepthReference,
    Fault,
    FaultKind,
    Flag,
    GaugeEvent,
    GaugeInfo,
    GaugeKind,
    Reading,
    Sends,
)
from gaugelink.units import LengthUnit

SETUP = JobSetup(
    title="invented pocket watch, Mrs Example",
    plan=make_plan(DepthReference.SEAT, with_=("recess",)),
)
CALIPER = GaugeInfo(
    gauge_id="caliper-1",
    kind=GaugeKind.CALIPER,
    sends=Sends.BUTTON,
    address="sim:bench",
    format="invented",
    mpe_mm=0.02,
    shift_mpe_mm=0.02,
    mpe_source="invented",
)


def reading(value_mm: float = 11.02, raw: bytes = b"11.02 mm\r\n") -> Reading:
    return Reading(
        value_mm=value_mm,
        resolution_mm=0.01,
        displayed=f"{value_mm:.2f}",
        unit=LengthUnit.MM,
        raw=raw,
        flags=frozenset({Flag.HELD, Flag.LOW_BATTERY}),
    )


def heard(number: int) -> GaugeEvent:
    body = reading(number / 100, raw=b"%d\r\n" % number)
    return GaugeEvent(gauge_id=CALIPER.gauge_id, elapsed_s=number / 7, body=body)


def garbage(number: int) -> GaugeEvent:
    fault = Fault(kind=FaultKind.UNPARSED, reason="no digits", raw=b"\xff\x00%d" % number)
    return GaugeEvent(gauge_id=CALIPER.gauge_id, elapsed_s=number / 7, body=fault)


def taken(number: int, measurand: str = "bore") -> Taken:
    return Taken(
        gauge_id=CALIPER.gauge_id,
        elapsed_s=number / 7,
        measurand=measurand,
        reading=reading(number / 100, raw=b"%d\r\n" % number),
    )


def begin(journal: Journal) -> int:
    job_id = journal.create_job(SETUP)
    journal.add_gauge(job_id, CALIPER)
    return job_id


def keep(journal: Journal, job_id: int, *items: Item) -> None:
    journal.write(job_id, items)
    journal.commit()


def stored(journal: Journal, job_id: int) -> Sequence[Item]:
    return [entry.item for entry in journal.events(job_id)]


def index_job(path: Path, job_id: int, sizes: Iterable[KeptSize]) -> None:
    """Keep the sizes of a job as it stands now."""
    with SizeBook(path) as book:
        book.keep({book.state(job_id): sizes})


def stock_uses(path: Path) -> list[tuple[str, int | None, int]]:
    """Item, job and count of what was taken out of the stock, the first first."""
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(
            "SELECT item, job_id, count FROM stock_use ORDER BY number"
        ).fetchall()
