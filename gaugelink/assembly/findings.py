"""What a job comes to: its sizes, corrected and with their uncertainty, and what is doubtful."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from gaugelink.assembly.doubts import measured_doubts
from gaugelink.assembly.quantities import measured_estimates
from gaugelink.capture.plan import JobRecord
from gaugelink.gauge_record import GaugeRecord
from gaugelink.sizing.results import SizingWarning
from gaugelink.statistics.outlier_method import OutlierMethod
from gaugelink.uncertainty.estimate import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """The sizes of a job in mm, by the model of each measurand, and the doubts beside them."""

    sizes: tuple[Estimate, ...]
    doubts: tuple[SizingWarning, ...]


def findings_of(
    record: JobRecord,
    gauge_records: Mapping[str, GaugeRecord],
    now: datetime,
    treatment: OutlierMethod = OutlierMethod.GRUBBS,
) -> Findings:
    """Return what a job comes to.

    Args:
        record: the job as it stands.
        gauge_records: what is known of its gauges now, by identity.
        now: the present moment, with its time zone.
        treatment: the test for outlying readings.
    """
    sizes = measured_estimates(record, gauge_records, treatment)
    names = [size.label for size in sizes]
    doubts = measured_doubts(record, gauge_records, names, now, treatment)
    return Findings(sizes=sizes, doubts=doubts)
