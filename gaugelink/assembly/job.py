"""One job, read from the journal once, and what follows from it, worked out once.

``load_job`` opens the file one time for everything that is kept of a job. Whoever needs its
summaries, its sizes or its doubts asks the ``Job``: however many ask, the acts are folded
and each measurand is summarised one time for each test of outliers.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from gaugelink.assembly.measured import Findings, estimates_of, found_in, measured_doubts
from gaugelink.assembly.parts import NO_RECORDS, Measured, measured_parts
from gaugelink.capture.plan import JobRecord
from gaugelink.gauge_record import GaugeRecord
from gaugelink.jobbook.export import Exporter, RecordIdentity
from gaugelink.jobbook.facts import Fact, FactBook, StoredFact
from gaugelink.jobbook.gauge_book import GaugeRecords
from gaugelink.jobbook.journal import Journal
from gaugelink.model import Advice
from gaugelink.statistics.outlier_method import OutlierMethod
from gaugelink.uncertainty.estimate import Quantity
from gaugelink.uncertainty.measurand_model import Found, measured_quantity

_Kind = TypeVar("_Kind", bound=Fact)
_GRUBBS = OutlierMethod.GRUBBS


class Job:
    """A job as it is, and all that is known of it.

    A ``treatment`` is the test for outlying readings. None is kept in a job, so the same
    readings may be looked at in another way.

    Args:
        record: its setup, gauges and acts.
        gauges: what is known of its gauges now, by identity.
        facts: what else was kept with it, in order.
        identity: which record it is, where that was asked for.
    """

    def __init__(
        self,
        record: JobRecord,
        gauges: Mapping[str, GaugeRecord] = NO_RECORDS,
        facts: tuple[StoredFact, ...] = (),
        identity: RecordIdentity | None = None,
    ) -> None:
        self.record = record
        self.gauges = gauges
        self.facts = facts
        self.identity = identity
        self._parts: dict[OutlierMethod, tuple[Measured, ...]] = {}
        self._found: dict[OutlierMethod, dict[str, Found]] = {}
        self._quantities: dict[OutlierMethod, dict[str, Quantity]] = {}

    @property
    def number(self) -> int:
        """Its number in the journal."""
        return self.record.job_id

    def latest(self, kind: type[_Kind]) -> _Kind | None:
        """Return the last fact of one kind; None if there is none."""
        facts = (stored.fact for stored in reversed(self.facts))
        return next((fact for fact in facts if isinstance(fact, kind)), None)

    def parts(self, treatment: OutlierMethod = _GRUBBS) -> tuple[Measured, ...]:
        """Return the readings that stand and their summaries, a part a gauge.

        Raises:
            StatisticsError: more readings of a measurand than the test takes.
        """
        if treatment not in self._parts:
            self._parts[treatment] = measured_parts(self.record, treatment, self.gauges)
        return self._parts[treatment]

    def found(self, treatment: OutlierMethod = _GRUBBS) -> dict[str, Found]:
        """Return all that was found out about each measurand, by name."""
        if treatment not in self._found:
            self._found[treatment] = found_in(self.record, self.parts(treatment), self.gauges)
        return self._found[treatment]

    def quantities(self, treatment: OutlierMethod = _GRUBBS) -> dict[str, Quantity]:
        """Return the measured quantities by measurand, with their uncertainty."""
        if treatment not in self._quantities:
            self._quantities[treatment] = {
                name: measured_quantity(each) for name, each in self.found(treatment).items()
            }
        return self._quantities[treatment]

    def doubts(
        self, used: Collection[str], now: datetime, treatment: OutlierMethod = _GRUBBS
    ) -> tuple[Advice, ...]:
        """Return what a result must say of the gauges and the parts behind it.

        Args:
            used: the measurands that the result was made of.
            now: the present moment, with its time zone.
            treatment: the test for outlying readings.
        """
        found = {name: each for name, each in self.found(treatment).items() if name in used}
        return measured_doubts(found, self.gauges, now)

    def findings(self, now: datetime, treatment: OutlierMethod = _GRUBBS) -> Findings:
        """Return what the job comes to: its sizes in mm, and what is doubtful about them.

        Args:
            now: the present moment, with its time zone.
            treatment: the test for outlying readings.
        """
        sizes = estimates_of(self.quantities(treatment))
        doubts = self.doubts([size.label for size in sizes], now, treatment)
        return Findings(sizes=sizes, doubts=doubts)

    def spread_mm(self, measurand: str, treatment: OutlierMethod = _GRUBBS) -> float | None:
        """Return largest less smallest used reading in mm; None with fewer than two."""
        found = self.found(treatment).get(measurand)
        return found.summary.spread_mm if found and found.summary.n_used > 1 else None

    def step_mm(self, measurand: str, treatment: OutlierMethod = _GRUBBS) -> float | None:
        """Return the display step that a measurand was read in, in mm; None where it was not."""
        found = self.found(treatment).get(measurand)
        return found.summary.resolution_mm if found else None


def load_job(journal: Path | str | None, number: int, *, identified: bool = False) -> Job:
    """Return a job with all that is kept of it, from one opening of the file.

    Args:
        journal: the journal's file; None for the usual one.
        number: the job's number.
        identified: work out its identity as well, which reads every byte of it.

    Raises:
        JobNotFound: no job has that number.
        JournalError: the file cannot be read.
    """
    path = None if journal is None else Path(journal)
    with Journal.open(path, to_read=True) as opened:
        return read_job(opened, number, identified=identified)


def read_job(opened: Journal, number: int, *, identified: bool = False) -> Job:
    """Return a job of a journal that is open; as ``load_job``."""
    record = opened.load(number)
    return Job(
        record=record,
        gauges=GaugeRecords.beside(opened).of(gauge.gauge_id for gauge in record.gauges),
        facts=FactBook.beside(opened).facts(number),
        identity=Exporter.beside(opened).identity(number) if identified else None,
    )
