"""Gauges, records and found measurands to make quantities of. All invented."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from gaugelink.gauge_record import CheckVerdict, GaugeCheck, GaugeRecord, LengthFound, ZeroFound
from gaugelink.model import GaugeInfo, GaugeKind, Reading, Sends, Series, Summary
from gaugelink.statistics.summary import summarise
from gaugelink.uncertainty.estimate import Influence, Quantity
from gaugelink.uncertainty.gauge_error import ZeroCheck
from gaugelink.uncertainty.measurand_model import Found, used_readings_mm
from gaugelink.units import LengthUnit


def gauge(kind: GaugeKind, mpe_mm: float, shift_mpe_mm: float) -> GaugeInfo:
    return GaugeInfo(
        gauge_id=str(kind),
        kind=kind,
        sends=Sends.BUTTON,
        address=f"sim:{kind}",
        format="invented",
        mpe_mm=mpe_mm,
        shift_mpe_mm=shift_mpe_mm,
        mpe_source="invented",
    )


CALIPER = gauge(GaugeKind.CALIPER, 0.02, 0.02)
MICROMETER = gauge(GaugeKind.MICROMETER, 0.004, 0.0)
ZERO = ZeroCheck(before_mm=0.0, after_mm=0.0, resolution_mm=0.01)


def record(**known: Any) -> GaugeRecord:
    return GaugeRecord(gauge_id="caliper", kind=GaugeKind.CALIPER, **known)


def check(std_mm: float, n: int = 11, zero_std_mm: float = 0.002, zero_dof: int = 9) -> GaugeCheck:
    """A check whose readings of 10 mm scattered by ``std_mm``."""
    return GaugeCheck(
        checked_utc="2026-03-01T09:00:00.000+00:00",
        job_id=1,
        zero=ZeroFound(
            n=zero_dof + 2,
            mean_mm=0.0,
            std_mm=zero_std_mm,
            dof=zero_dof,
            drift_mm=0.0,
            resolution_mm=0.01,
        ),
        lengths=(
            LengthFound(
                known_mm=10.0,
                u_known_mm=0.0002,
                n=n,
                mean_mm=10.0,
                std_mm=std_mm,
                bias_mm=0.0,
                u_bias_mm=0.004,
                mpe_mm=0.02,
                guard_mm=0.0066,
                verdict=CheckVerdict.PASS,
                tolerance_mm=0.1,
                cg=None,
                cgk=None,
            ),
        ),
    )


def summarised(
    measurand: str, values_mm: Sequence[float], by: GaugeInfo = CALIPER, step_mm: float = 0.01
) -> Summary:
    readings = tuple(
        Reading(
            value_mm=value,
            resolution_mm=step_mm,
            displayed=f"{value:.3f}",
            unit=LengthUnit.MM,
            raw=b"",
        )
        for value in values_mm
    )
    return summarise(Series(measurand=measurand, gauge_id=by.gauge_id, readings=readings))


def found(
    measurand: str,
    values_mm: Sequence[float],
    by: GaugeInfo = CALIPER,
    step_mm: float = 0.01,
    **known: Any,
) -> Found:
    summary = summarised(measurand, values_mm, by, step_mm)
    used_mm = used_readings_mm(values_mm, summary)
    return Found(summary=summary, used_mm=used_mm, gauge=by, **known)


def contributions(quantity: Quantity) -> dict[str, float]:
    """Factor times u of each influence, by label."""
    return {term.influence.label: term.factor * term.influence.u for term in quantity.terms}


def influence(quantity: Quantity, label: str) -> Influence:
    (one,) = (t.influence for t in quantity.terms if t.influence.label == label)
    return one


def combined_u(quantity: Quantity) -> float:
    return math.hypot(*contributions(quantity).values())
