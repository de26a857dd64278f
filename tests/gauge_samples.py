"""Checks and records of an invented caliper, and readings to make them of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gaugelink.gauge_record import (
    Anvils,
    CertificatePoint,
    CheckVerdict,
    GaugeCheck,
    GaugeRecord,
    JawFlats,
    LengthFound,
    ZeroFound,
)
from gaugelink.model import GaugeKind, Reading, Series
from gaugelink.units import LengthUnit

ZERO = ZeroFound(n=6, mean_mm=0.001, std_mm=0.002, dof=4, drift_mm=0.002, resolution_mm=0.01)


def length(
    known_mm: float = 5.0, verdict: CheckVerdict = CheckVerdict.PASS, **more: Any
) -> LengthFound:
    fields: dict[str, Any] = {
        "known_mm": known_mm,
        "u_known_mm": 0.0002,
        "n": 10,
        "mean_mm": known_mm + 0.003,
        "std_mm": 0.004,
        "bias_mm": 0.002,
        "u_bias_mm": 0.004,
        "mpe_mm": 0.02,
        "guard_mm": 0.0066,
        "verdict": verdict,
        "tolerance_mm": 0.1,
        "cg": 0.83,
        "cgk": 0.67,
    }
    return LengthFound(**(fields | more))


def check(*lengths: LengthFound, day: int = 1) -> GaugeCheck:
    return GaugeCheck(
        checked_utc=f"2026-03-{day:02d}T09:00:00.000+00:00",
        job_id=day,
        zero=ZERO,
        lengths=lengths or (length(),),
    )


def record(**known: Any) -> GaugeRecord:
    return GaugeRecord(gauge_id="usb-caliper", kind=GaugeKind.CALIPER, **known)


FULL = record(
    resolution_mm=0.01,
    mpe_mm=0.03,
    shift_mpe_mm=0.04,
    mpe_source="maker's leaflet, invented",
    certificate=(
        CertificatePoint(size_mm=0.0, correction_mm=0.0, expanded_u_mm=0.008),
        CertificatePoint(size_mm=25.0, correction_mm=-0.004, expanded_u_mm=0.012, k=2.2),
    ),
    jaw_flats=JawFlats(width_mm=0.4, u_mm=0.05),
    anvils=Anvils.BALL,
    check_interval_days=180,
)


def series(name: str, values_mm: Sequence[float], step_mm: float = 0.01) -> Series:
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
    return Series(measurand=name, gauge_id="usb-caliper", readings=readings)
