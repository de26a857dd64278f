"""What must be said beside a result: gauges that failed or were not checked, parts not round."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from datetime import datetime

from gaugelink.assembly.quantities import found_in
from gaugelink.capture.plan import JobRecord
from gaugelink.gauge_record import GaugeRecord
from gaugelink.gauge_trust import gauge_advice
from gaugelink.sizing.results import SizingWarning
from gaugelink.statistics.outlier_method import OutlierMethod
from gaugelink.uncertainty.measurand_model import ARBOR, BORE, Found, form_found_mm

_SECONDS_A_DAY = 86_400.0


def measured_doubts(
    record: JobRecord,
    gauge_records: Mapping[str, GaugeRecord],
    used: Collection[str],
    now: datetime,
    treatment: OutlierMethod = OutlierMethod.GRUBBS,
) -> tuple[SizingWarning, ...]:
    """Return what a result must say of the gauges and the parts behind it.

    Args:
        record: the job as it stands.
        gauge_records: what is known of its gauges now, by identity.
        used: the measurands that the result was made of.
        now: the present moment, with its time zone.
        treatment: the test for outlying readings.

    Returns:
        Checks that failed or are overdue, a gauge at a time; then an oval bore and a
        snail-shaped hub.
    """
    all_found = found_in(record, gauge_records, treatment)
    found = {name: each for name, each in all_found.items() if name in used}
    gauge_ids = dict.fromkeys(each.gauge.gauge_id for each in found.values())
    known = [gauge_records[gauge_id] for gauge_id in gauge_ids if gauge_id in gauge_records]
    return (
        *(
            SizingWarning(code=advice.code, text=advice.text)
            for gauge in known
            for advice in gauge_advice(gauge, check_age_days(gauge, now))
        ),
        *_forms_seen(found),
    )


def check_age_days(gauge: GaugeRecord, now: datetime) -> float | None:
    """Return how many days ago a gauge was last checked; None when it never was."""
    check = gauge.last_check
    if check is None:
        return None
    return (now - datetime.fromisoformat(check.checked_utc)).total_seconds() / _SECONDS_A_DAY


def _forms_seen(found: Mapping[str, Found]) -> Iterator[SizingWarning]:
    spans_mm = {name: form_found_mm(each) for name, each in found.items()}
    if span_mm := spans_mm.get(BORE):
        yield SizingWarning(
            code="bore-out-of-round",
            text=f"The bore is out of round by about {span_mm:.2f} mm, largest less smallest "
            "diameter, more than the gauge scatters; the mean is used.",
        )
    if spans_mm.get(ARBOR):
        low_mm, high_mm = min(found[ARBOR].used_mm), max(found[ARBOR].used_mm)
        yield SizingWarning(
            code="arbor-snail",
            text=f"The hub of the arbor is not round: its widths were read from {low_mm:.2f} to "
            f"{high_mm:.2f} mm. The mean of the widths is used.",
        )
