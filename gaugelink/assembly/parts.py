"""What is in a job: the readings that each gauge took, their summaries, and its zeros."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from gaugelink.capture.acts import ZERO, Superseded, Taken
from gaugelink.capture.plan import JobRecord, Plan
from gaugelink.capture.progress import Progress
from gaugelink.errors import InputError
from gaugelink.gauge_record import GaugeRecord, Repeatability, with_record
from gaugelink.model import GaugeInfo, Reading, Seek, Series, Summary
from gaugelink.statistics.known_scatter import shown_by
from gaugelink.statistics.outlier_method import OutlierMethod
from gaugelink.statistics.summary import summarise
from gaugelink.uncertainty.gauge_error import ZeroCheck
from gaugelink.uncertainty.measurand_model import ARBOR, BORE
from gaugelink.uncertainty.scatter import Around, hand_of, repeats_to_mm
from gaugelink.units import LengthUnit

NO_RECORDS: Mapping[str, GaugeRecord] = {}
HALFWAY = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What one gauge found in a job: its zero check, and a series and summary a measurand.

    ``gauge`` has the limits that its record states now. ``superseded`` are the readings that
    counted until their measurand was measured anew.
    """

    gauge: GaugeInfo
    zero: ZeroCheck | None
    series: tuple[Series, ...]
    summaries: tuple[Summary, ...]
    superseded: tuple[Series, ...] = ()


def measured_parts(
    record: JobRecord,
    treatment: OutlierMethod = OutlierMethod.GRUBBS,
    gauge_records: Mapping[str, GaugeRecord] = NO_RECORDS,
) -> tuple[Measured, ...]:
    """Return what is in a job, a part a gauge; undone readings are left out.

    Args:
        record: the job as it is.
        treatment: the test for outlying readings. Nothing of it is kept in the job, so
            the same readings may be looked at in another way.
        gauge_records: what is known of the gauges now, by identity; how closely one
            repeats tells which readings do not belong to the rest.

    Raises:
        StatisticsError: more readings of a measurand than the test takes.
    """
    folded = _folded(record)
    return tuple(
        _measured(gauge, folded[gauge.gauge_id], treatment, gauge_records.get(gauge.gauge_id))
        for gauge in record.gauges
    )


def remaining_plan(record: JobRecord, present: frozenset[str]) -> Plan:
    """Return the plan without what gauges that are not in ``present`` have measured.

    Args:
        record: the job as it is.
        present: identities of the gauges of the new sitting.
    """
    done = {
        step.measurand
        for gauge_id, progress in _folded(record).items()
        if gauge_id not in present
        for step in progress.steps
        if progress.standing(step.measurand)
    }
    plan = record.setup.plan
    return replace(plan, steps=tuple(s for s in plan.steps if s.measurand not in done))


def unfinished(record: JobRecord) -> tuple[str, ...]:
    """Return the measurands of a job that no gauge has finished or skipped, in plan order."""
    folded = _folded(record).values()
    return tuple(
        step.measurand
        for step in record.setup.plan.steps
        if not any(progress.is_complete(step.measurand) for progress in folded)
    )


def superseding(record: JobRecord, measurands: Collection[str]) -> tuple[Superseded, ...]:
    """Return the acts by which measurands of a job are measured anew.

    Args:
        record: the job as it is.
        measurands: what is measured anew.

    Raises:
        InputError: a name that is not in the job's plan.
    """
    planned = [step.measurand for step in record.setup.plan.steps]
    for name in measurands:
        if name not in planned:
            raise InputError(
                f"{name!r} is not in the plan of job {record.job_id} and cannot be redone.",
                hint=f"The plan has {', '.join(planned)}.",
            )
    return tuple(
        Superseded(gauge_id=gauge_id, measurand=name)
        for name in planned
        for gauge_id, progress in _folded(record).items()
        if name in measurands and (progress.standing(name) or progress.is_skipped(name))
    )


def unit_begun_in(record: JobRecord, gauge_id: str) -> LengthUnit | None:
    """Return the unit that a gauge was read in so far; None when nothing of it counts."""
    progress = _folded(record).get(gauge_id)
    return progress.unit if progress else None


def summarised(
    series: Series,
    gauge: GaugeInfo,
    sought: Seek,
    treatment: OutlierMethod = OutlierMethod.GRUBBS,
    known: GaugeRecord | None = None,
    others: Sequence[Series] = (),
) -> Summary:
    """Summarise readings by how they were sought, and by what is known of their gauge.

    ``others`` are the series that the same gauge read in the job.
    """
    step_mm = mean_step_mm(series.readings)
    values_mm = [[reading.value_mm for reading in other.readings] for other in others]
    return summarise(
        _with_step(series, step_mm),
        treatment=treatment,
        sought=sought,
        scatter_mm=repeats_to_mm(gauge.kind, step_mm, known),
        others=shown_by(values_mm, step_mm),
    )


def mean_step_mm(readings: Sequence[Reading]) -> float:
    """Return by which step in mm the mean of readings is rounded, the mean of their steps.

    Each lies within half of its own step; a value typed with fewer decimals is as coarse as
    that, and the others no coarser for it.
    """
    steps_mm = [reading.resolution_mm for reading in readings]
    if min(steps_mm) == max(steps_mm):
        return steps_mm[0]
    return math.fsum(steps_mm) / len(steps_mm)


def _with_step(series: Series, step_mm: float) -> Series:
    if all(reading.resolution_mm == step_mm for reading in series.readings):
        return series
    evened = tuple(replace(reading, resolution_mm=step_mm) for reading in series.readings)
    return replace(series, readings=evened)


def finest_step_mm(readings: Iterable[Reading]) -> float:
    """Return the finest step in mm that readings show, infinite where there are none."""
    return min((reading.resolution_mm for reading in readings), default=math.inf)


def hand_in(summaries: Sequence[Summary]) -> Repeatability | None:
    """Return how the hand uses a gauge, by all its series in a job."""
    return hand_of(
        [
            Around(std_mm=each.std_mm, dof=each.dof, around=each.measurand in _AROUND)
            for each in summaries
            if each.std_mm is not None
        ]
    )


def hand_beside(summaries: Sequence[Summary], measurand: str) -> Repeatability | None:
    """Return how the hand uses a gauge beside one measurand, by series without a form of a part."""
    others = [each for each in summaries if each.measurand not in (measurand, *_AROUND)]
    return hand_in(others)


_AROUND = (BORE, ARBOR)


def share_gone(record: JobRecord, gauge_id: str, measurand: str) -> float:
    """Return how much of the time between the two zeros had gone when a measurand was read.

    Times are of the gauge's own clock, which begins anew with each sitting: only a job of
    one sitting, with two zeros, tells. Readings that were taken back count as well; they
    were read at about the same time.

    Args:
        record: the job as it is.
        gauge_id: the gauge.
        measurand: what was read with it.

    Returns:
        0 to 1; 0.5 where it is not known.
    """
    taken = [act for act in record.acts if isinstance(act, Taken) and act.gauge_id == gauge_id]
    zeros_s = [act.elapsed_s for act in taken if act.is_zero]
    read_s = [act.elapsed_s for act in taken if act.measurand == measurand]
    if len(zeros_s) != 2 or not read_s or not zeros_s[0] < zeros_s[1]:
        return HALFWAY
    mean_s = sum(read_s) / len(read_s)
    share = (mean_s - zeros_s[0]) / (zeros_s[1] - zeros_s[0])
    return share if 0.0 <= share <= 1.0 else HALFWAY


def read_after_last_zero(record: JobRecord, gauge_id: str, measurand: str) -> bool:
    """Tell whether a measurand was read with a gauge and no zero of it was taken after."""
    taken = [act for act in record.acts if isinstance(act, Taken) and act.gauge_id == gauge_id]
    newest_first = (act for act in reversed(taken) if act.is_zero or act.measurand == measurand)
    newest = next(newest_first, None)
    return newest is not None and not newest.is_zero


def zero_around(record: JobRecord, gauge_id: str, measurand: str) -> ZeroCheck | None:
    """Return the zeros before and after a measurand in a job of which something was redone.

    A gauge may have been set anew before it came back to a job that was finished: what was
    measured then keeps the zeros of then.

    Args:
        record: the job as it is.
        gauge_id: the gauge.
        measurand: what was read with it.

    Returns:
        None where nothing was redone with the gauge, and all its zeros count.
    """
    acts = [act for act in record.acts if act.gauge_id == gauge_id]
    anew = [i for i, act in enumerate(acts) if isinstance(act, Superseded)]
    taken = {i: act for i, act in enumerate(acts) if isinstance(act, Taken)}
    begun = max(
        (i for i in anew if acts[i] == Superseded(gauge_id=gauge_id, measurand=measurand)),
        default=-1,
    )
    read = [i for i, act in taken.items() if i > begun and act.measurand == measurand]
    if not anew or not read:
        return None
    zeros = [i for i, act in taken.items() if act.is_zero]
    first = max((i for i in zeros if i < read[0]), default=read[0])
    last = min((i for i in zeros if i > read[-1]), default=read[-1])
    around = [n for n, i in enumerate(zeros) if first <= i <= last]
    finest_mm = finest_step_mm(act.reading for act in taken.values())
    check = _zero_check(tuple(taken[zeros[n]].reading for n in around), finest_mm)
    return check and replace(check, which=f" (zeros {around[0] + 1} to {around[-1] + 1})")


def _folded(record: JobRecord) -> dict[str, Progress]:
    """How far each gauge of a job has come, by identity: the one fold of its acts."""
    folded = {gauge.gauge_id: Progress(record.setup.plan.steps) for gauge in record.gauges}
    for act in record.acts:
        if act.gauge_id in folded:
            folded[act.gauge_id].apply(act)
    return folded


def _measured(
    gauge: GaugeInfo, progress: Progress, treatment: OutlierMethod, known: GaugeRecord | None
) -> Measured:
    all_series = _series_of(gauge, progress, progress.standing)
    sought = {step.measurand: step.seek for step in progress.steps}
    summaries = _summaries(gauge, all_series, sought, treatment, known)
    zero = _zero_check(progress.standing(ZERO), finest_step_mm(progress.readings))
    return Measured(
        gauge=with_record(gauge, known),
        zero=zero and replace(zero, hand=hand_in(summaries)),
        series=all_series,
        summaries=summaries,
        superseded=_series_of(gauge, progress, progress.superseded),
    )


def _summaries(
    gauge: GaugeInfo,
    all_series: Sequence[Series],
    sought: Mapping[str, Seek],
    treatment: OutlierMethod,
    known: GaugeRecord | None,
) -> tuple[Summary, ...]:
    return tuple(
        summarised(
            series,
            gauge,
            sought[series.measurand],
            treatment,
            known,
            [other for other in all_series if other is not series],
        )
        for series in all_series
    )


def _series_of(
    gauge: GaugeInfo, progress: Progress, readings_of: Callable[[str], tuple[Reading, ...]]
) -> tuple[Series, ...]:
    return tuple(
        Series(measurand=step.measurand, gauge_id=gauge.gauge_id, readings=readings)
        for step in progress.steps
        if (readings := readings_of(step.measurand))
    )


def _zero_check(zeros: tuple[Reading, ...], finest_mm: float) -> ZeroCheck | None:
    """A job continued later has more than two zeros: its drift is their whole range.

    A zero that was typed as ``0`` was seen as finely as the gauge shows anything.
    """
    if not zeros:
        return None
    values_mm = [zero.value_mm for zero in zeros]
    step_mm = min(max(zero.resolution_mm for zero in zeros), finest_mm)
    if len(zeros) == 1:
        return ZeroCheck(before_mm=values_mm[0], after_mm=None, resolution_mm=step_mm)
    first, last = values_mm[0], values_mm[-1]
    low, high = min(values_mm), max(values_mm)
    before, after = (low, high) if first <= last else (high, low)
    return ZeroCheck(before_mm=before, after_mm=after, resolution_mm=step_mm)
