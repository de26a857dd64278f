"""Joins the stages: from a journaled job to summaries, and on to the inputs of the sizing."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from gaugelink.capture.acts import ZERO
from gaugelink.capture.job import JobRecord
from gaugelink.capture.lane import Review
from gaugelink.capture.plan import Plan
from gaugelink.capture.progress import Progress
from gaugelink.errors import SizingError
from gaugelink.gauge_record import GaugeRecord
from gaugelink.gauge_trust import gauge_advice
from gaugelink.model import GaugeInfo, Reading, Series, Summary
from gaugelink.sizing.inputs import GivenSpring
from gaugelink.sizing.results import SizingWarning
from gaugelink.statistics.summary import summarise
from gaugelink.uncertainty.estimate import Quantity
from gaugelink.uncertainty.measurand import ZeroCheck
from gaugelink.uncertainty.measurand_model import (
    ARBOR,
    BORE,
    Found,
    form_found_mm,
    measured_quantity,
    used_readings_mm,
)
from gaugelink.units import LengthUnit

_SECONDS_A_DAY = 86_400.0
_NO_RECORDS: Mapping[str, GaugeRecord] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What one gauge found in a job: its zero check, and a series and summary a measurand."""

    gauge: GaugeInfo
    zero: ZeroCheck | None
    series: tuple[Series, ...]
    summaries: tuple[Summary, ...]


def review_series(series: Series) -> Review | None:
    """Look at a completed series; ask for two more readings when its spread is wide.

    Three or four readings are judged by their spread, five by an outlier test: so this
    asks once.
    """
    wide = next((a for a in summarise(series).advice if a.code == "spread_wide"), None)
    return Review(n_more=2, reason=wide.text) if wide else None


def measured_parts(record: JobRecord) -> tuple[Measured, ...]:
    """Return what stands in a job, a part a gauge; undone readings are left out."""
    return tuple(_measured(gauge, _progress(gauge, record)) for gauge in record.gauges)


def remaining_plan(record: JobRecord, present: frozenset[str]) -> Plan:
    """Return the plan without what gauges that are not in ``present`` have measured.

    Args:
        record: the job as it stands.
        present: identities of the gauges of the new sitting.
    """
    done = {
        series.measurand
        for part in measured_parts(record)
        if part.gauge.gauge_id not in present
        for series in part.series
    }
    plan = record.setup.plan
    return replace(plan, steps=tuple(s for s in plan.steps if s.measurand not in done))


def unit_begun_in(record: JobRecord, gauge_id: str) -> LengthUnit | None:
    """Return the unit that a gauge was read in so far; None when nothing of it stands."""
    gauge = next((g for g in record.gauges if g.gauge_id == gauge_id), None)
    return _progress(gauge, record).unit if gauge else None


def measured_quantities(
    record: JobRecord, gauge_records: Mapping[str, GaugeRecord] = _NO_RECORDS
) -> dict[str, Quantity]:
    """Return the measured quantities of a job by measurand, with their uncertainty.

    Args:
        record: the job as it stands.
        gauge_records: what is known of its gauges now, by identity.
    """
    found = _found(record, gauge_records)
    return {name: measured_quantity(each) for name, each in found.items()}


def measured_doubts(
    record: JobRecord,
    gauge_records: Mapping[str, GaugeRecord],
    used: Collection[str],
    now: datetime,
) -> tuple[SizingWarning, ...]:
    """Return what a result must say of the gauges and the parts behind it.

    Args:
        record: the job as it stands.
        gauge_records: what is known of its gauges now, by identity.
        used: the measurands that the result was made of.
        now: the present moment, with its time zone.

    Returns:
        Checks that failed or are overdue, a gauge at a time; then an oval bore and a
        snail-shaped hub.
    """
    found = {name: each for name, each in _found(record, gauge_records).items() if name in used}
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


def _found(record: JobRecord, gauge_records: Mapping[str, GaugeRecord]) -> dict[str, Found]:
    return {
        series.measurand: Found(
            summary=summary,
            used_mm=used_readings_mm([r.value_mm for r in series.readings], summary),
            gauge=part.gauge,
            zero=part.zero,
            record=gauge_records.get(part.gauge.gauge_id),
            depth_reference=record.setup.plan.depth_reference,
        )
        for part in measured_parts(record)
        for series, summary in zip(part.series, part.summaries, strict=True)
    }


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
    if span_mm := spans_mm.get(ARBOR):
        yield SizingWarning(
            code="arbor-snail",
            text=f"The hub of the arbor is not round: its widths differ by about {span_mm:.2f} mm. "
            "The mean of the smallest and the largest is used.",
        )


def given_spring(name: str, quantities: Mapping[str, Quantity]) -> GivenSpring | None:
    """Return the spring whose sizes stand in ``quantities`` as ``name_thickness`` and so on.

    Raises:
        SizingError: a height or length without a thickness.
    """
    parts = {
        size: quantities[f"{name}_{size}"]
        for size in ("height", "thickness", "length")
        if f"{name}_{size}" in quantities
    }
    if not parts:
        return None
    if "thickness" not in parts:
        raise SizingError(
            f"The {name} spring has no thickness.",
            inputs=(f"{name}.thickness",),
            hint=f"Give --{name}-thickness, or leave its other sizes out.",
        )
    return GivenSpring(
        thickness=parts["thickness"], height=parts.get("height"), length=parts.get("length")
    )


def _progress(gauge: GaugeInfo, record: JobRecord) -> Progress:
    progress = Progress(record.setup.plan.steps)
    for act in record.acts:
        if act.gauge_id == gauge.gauge_id:
            progress.apply(act)
    return progress


def _measured(gauge: GaugeInfo, progress: Progress) -> Measured:
    series = tuple(
        Series(
            measurand=step.measurand,
            gauge_id=gauge.gauge_id,
            readings=progress.standing(step.measurand),
        )
        for step in progress.steps
        if progress.standing(step.measurand)
    )
    return Measured(
        gauge=gauge,
        zero=_zero_check(progress.standing(ZERO)),
        series=series,
        summaries=tuple(map(summarise, series)),
    )


def _zero_check(zeros: tuple[Reading, ...]) -> ZeroCheck | None:
    """A job continued later has more than two zeros: its drift is their whole range."""
    if not zeros:
        return None
    values_mm = [zero.value_mm for zero in zeros]
    step_mm = max(zero.resolution_mm for zero in zeros)
    if len(zeros) == 1:
        return ZeroCheck(before_mm=values_mm[0], after_mm=None, resolution_mm=step_mm)
    first, last = values_mm[0], values_mm[-1]
    low, high = min(values_mm), max(values_mm)
    before, after = (low, high) if first <= last else (high, low)
    return ZeroCheck(before_mm=before, after_mm=after, resolution_mm=step_mm)
