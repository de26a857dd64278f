"""A series of readings becomes the mean, its scatter and its type A uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

from gaugelink.errors import StatisticsError
from gaugelink.model import Advice, Series, Summary
from gaugelink.statistics import wording
from gaugelink.statistics.moments import mean, std
from gaugelink.statistics.outlier_method import OutlierMethod
from gaugelink.statistics.side import Sought
from gaugelink.statistics.treatment import Treatment, treat
from gaugelink.statistics.type_a import u_of_mean_mm


def summarise(
    series: Series,
    *,
    treatment: OutlierMethod = OutlierMethod.GRUBBS,
    sought: Sought = Sought.SETTLED,
    scatter_mm: float | None = None,
) -> Summary:
    """Summarise the readings of one measurand, in mm.

    The type A standard uncertainty of the mean is u = s / sqrt(n) with n - 1
    degrees of freedom (JCGM 100:2008, 4.2.3), over the readings that were not
    rejected; ``type_a`` says in which two cases it is larger. Apart from those the
    display step enters no figure here: three or more equal readings give u = 0 and the
    advice ``coarse_display``, and the uncertainty stage adds the step. Where readings
    differ in step, the coarsest counts.

    Args:
        series: one or more readings in the order they were taken.
        treatment: the test for outlying readings.
        sought: how the readings were sought; a sweep errs to one side only.
        scatter_mm: what the gauge is known to repeat to, a standard deviation; None
            takes what ``treatment`` assumes of any gauge.

    Returns:
        The summary; ``std_mm`` and ``u_mean_mm`` are None for one reading.

    Raises:
        StatisticsError: no readings, a value that is not finite, a step that is
            not a positive length, more readings than the test takes.
    """
    _check(series)
    values_mm = tuple(reading.value_mm for reading in series.readings)
    resolution_mm = max(reading.resolution_mm for reading in series.readings)
    treated = treat(
        values_mm,
        resolution_mm,
        method=treatment,
        side=sought.wrong_side,
        scatter_mm=scatter_mm,
    )
    return _summary(series, values_mm, resolution_mm, treated)


def _summary(
    series: Series, values_mm: tuple[float, ...], resolution_mm: float, treated: Treatment
) -> Summary:
    used_mm = tuple(x for i, x in enumerate(values_mm) if i not in treated.rejected)
    scatter = _scatter(values_mm, used_mm, resolution_mm, treated)
    return Summary(
        measurand=series.measurand,
        gauge_id=series.gauge_id,
        n_taken=len(values_mm),
        n_used=len(used_mm),
        mean_mm=mean(used_mm),
        mean_all_mm=mean(values_mm),
        std_mm=scatter.std_mm,
        spread_mm=max(used_mm) - min(used_mm),
        u_mean_mm=scatter.u_mean_mm,
        dof=len(used_mm) - 1,
        resolution_mm=resolution_mm,
        marks=treated.marks,
        advice=treated.advice + scatter.advice,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scatter:
    std_mm: float | None
    u_mean_mm: float | None
    advice: tuple[Advice, ...] = ()


def _scatter(
    values_mm: tuple[float, ...],
    used_mm: tuple[float, ...],
    resolution_mm: float,
    treated: Treatment,
) -> _Scatter:
    n = len(used_mm)
    if n == 1:
        return _Scatter(std_mm=None, u_mean_mm=None, advice=(wording.single_reading(),))
    std_mm = std(used_mm)
    moved_mm = mean(values_mm) - mean(used_mm) if treated.doubtful else 0.0
    return _Scatter(
        std_mm=std_mm,
        u_mean_mm=u_of_mean_mm(std_mm, n, resolution_mm=resolution_mm, moved_by_doubt_mm=moved_mm),
        advice=() if std_mm > 0.0 else (wording.coarse_display(n, resolution_mm),),
    )


def _check(series: Series) -> None:
    if not series.readings:
        raise StatisticsError(
            f"There are no readings of {series.measurand}.", hint="Take at least one reading."
        )
    for number, reading in enumerate(series.readings, start=1):
        if not math.isfinite(reading.value_mm):
            raise StatisticsError(
                f"Reading {number} of {series.measurand} is not a finite number.",
                hint="Discard that reading and take it again.",
            )
        if not (math.isfinite(reading.resolution_mm) and reading.resolution_mm > 0.0):
            raise StatisticsError(
                f"Reading {number} of {series.measurand} has no usable display step.",
                hint="State the display step in the gauge's format profile.",
            )
