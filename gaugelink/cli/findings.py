"""What a job comes to, with what is known of its gauges at this moment."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

from gaugelink.assembly.quantities import Findings, findings_of
from gaugelink.capture.plan import JobRecord
from gaugelink.gauge_record import GaugeRecord
from gaugelink.jobbook.gauge_records import GaugeRecords
from gaugelink.statistics.outlier_method import OutlierMethod


def job_findings(
    record: JobRecord,
    known: Mapping[str, GaugeRecord],
    treatment: OutlierMethod = OutlierMethod.GRUBBS,
) -> Findings:
    """Return the sizes of a job, and what is doubtful about its gauges now and its parts.

    Args:
        record: the job.
        known: what is known of its gauges, by identity.
        treatment: the test for outlying readings.
    """
    return findings_of(record, known, datetime.now(UTC), treatment)


def known_gauges(record: JobRecord, journal: Path | None) -> Mapping[str, GaugeRecord]:
    """Return what is known of the gauges of a job, by identity.

    Args:
        record: the job.
        journal: the file in which the records are; None for the usual one.
    """
    with GaugeRecords(journal, to_read=True) as records:
        return records.of(gauge.gauge_id for gauge in record.gauges)
