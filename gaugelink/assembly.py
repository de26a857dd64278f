"""Joins the stages: from a journaled job to summaries, and on to the inputs of the sizing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from gaugelink.capture.acts import ZERO
from gaugelink.capture.job import JobRecord
from gaugelink.capture.lane import Review
from gaugelink.capture.plan import Plan
from gaugelink.capture.progress import Progress
from gaugelink.errors import SizingError
from gaugelink.model import GaugeInfo, Reading, Series, Summary
from gaugelink.sizing.inputs import GivenSpring
from gaugelink.statistics.summary import summarise
from gaugelink.uncertainty.estimate import Quantity
from gaugelink.uncertainty.measurand import Face, ZeroCheck, quantity_from_summary
from gaugelink.units import LengthUnit

FACES = {"bore": Face.INSIDE, "depth": Face.DEPTH, "recess": Face.DEPTH}  # all others: outside


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


def measured_quantities(record: JobRecord) -> dict[str, Quantity]:
    """Return the measured quantities of a job by measurand, with their uncertainty."""
    return {
        summary.measurand: quantity_from_summary(
            summary, part.gauge, part.zero, FACES.get(summary.measurand, Face.OUTSIDE)
        )
        for part in measured_parts(record)
        for summary in part.summaries
    }


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
