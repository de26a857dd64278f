"""What the product is given of a simulated bench: series, zeros, the gauges' records, the job."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

from parts import CALIBRATED_ANVILS, KNOWN_FLATS_MM, U_FLATS_MM
from scenarios import Gauge, Scenario
from truth import (
    KNOWN_LENGTH_MM,
    U_CERTIFICATE_STEPS,
    Benches,
    owner,
    reading_times,
    served_by,
)

from gaugelink.assembly.reviewing import JobInHand, review_series
from gaugelink.capture.acts import ZERO, Taken
from gaugelink.capture.plan import JobRecord, JobSetup, Plan, make_plan
from gaugelink.gauge_check import TOLERANCE_MM, KnownLength, length_found, zero_found
from gaugelink.gauge_record import CertificatePoint, GaugeCheck, GaugeRecord, JawFlats
from gaugelink.model import Reading, Series
from gaugelink.statistics.treatment import FEWEST_TESTED
from gaugelink.uncertainty.gauge_error import ZeroCheck
from gaugelink.units import LengthUnit

PLAN = make_plan()
JOB_S = 600.0
CERTIFIED_MM = (0.0, 25.0)
MIDNIGHT = "2000-01-01T00:00:00+00:00"


def series_taken(benches: Benches, name: str, index: int) -> Series:
    """Return the readings of one measurand that were taken at one bench."""
    gauge = owner(name, benches.scenario)
    count = count_taken(benches, name, index)
    return _series(gauge, name, benches.readings[name][index, :count])


def count_taken(benches: Benches, name: str, index: int) -> int:
    """Return how many readings are taken: those of the plan, and those that the product asks for.

    The product looks once, when the planned ones are complete.
    """
    scenario = benches.scenario
    if scenario.n >= FEWEST_TESTED and not scenario.as_asked:
        return scenario.n  # the outlier tests judge so many: no spread asks for more
    series = _series(owner(name, scenario), name, benches.readings[name][index, : scenario.n])
    review = review_series(series, _job_in_hand(benches, index) if scenario.as_asked else None)
    return min(scenario.n + (review.n_more if review else 0), benches.readings[name].shape[1])


def zero_check(name: str, benches: Benches, index: int, n_taken: int) -> ZeroCheck:
    """Return the two zeros of the gauge of a measurand, and when it was measured between them."""
    scenario = benches.scenario
    gauge = owner(name, scenario)
    before_mm, after_mm = (_shown_mm(gauge, x) for x in benches.zeros[gauge.gauge_id][index])
    return ZeroCheck(
        before_mm=before_mm,
        after_mm=after_mm,
        resolution_mm=gauge.step_mm,
        share=float(reading_times(name, scenario)[:n_taken].mean()),
    )


def gauge_records(benches: Benches, index: int) -> dict[str, GaugeRecord]:
    """Return what is known of the calibrated gauges of one bench, by identity."""
    return {
        gauge.gauge_id: _gauge_record(gauge, benches, index)
        for gauge in benches.scenario.gauges
        if gauge.calibrated
    }


def job_record(benches: Benches, index: int) -> JobRecord:
    """Return one bench as the journal would hold it."""
    return JobRecord(
        job_id=1,
        created_utc=MIDNIGHT,
        setup=JobSetup(title="coverage", plan=PLAN),
        gauges=tuple(gauge.info for gauge in benches.scenario.gauges),
        acts=tuple(_acts(benches, index)),
        closed=True,
    )


def _plan_of(scenario: Scenario) -> Plan:
    steps = tuple(replace(step, n_wanted=scenario.n) for step in PLAN.steps)
    return replace(PLAN, steps=steps)


def _job_in_hand(benches: Benches, index: int) -> JobInHand:
    return JobInHand(
        plan=_plan_of(benches.scenario),
        gauges=tuple(gauge.info for gauge in benches.scenario.gauges),
        records=gauge_records(benches, index),
    )


def _acts(benches: Benches, index: int) -> Iterator[Taken]:
    for gauge in benches.scenario.gauges:
        before_mm, after_mm = benches.zeros[gauge.gauge_id][index]
        yield _taken(gauge, ZERO, _reading(gauge, before_mm), 0.0)
        for name in served_by(gauge, benches.scenario):
            times = reading_times(name, benches.scenario)
            for reading, time in zip(
                series_taken(benches, name, index).readings, times, strict=False
            ):
                yield _taken(gauge, name, reading, time)
        yield _taken(gauge, ZERO, _reading(gauge, after_mm), 1.0)


def _taken(gauge: Gauge, measurand: str, reading: Reading, time: float) -> Taken:
    return Taken(
        gauge_id=gauge.gauge_id, elapsed_s=JOB_S * time, measurand=measurand, reading=reading
    )


def _series(gauge: Gauge, measurand: str, values_mm: Iterable[float]) -> Series:
    readings = tuple(_reading(gauge, value_mm) for value_mm in values_mm)
    return Series(measurand=measurand, gauge_id=gauge.gauge_id, readings=readings)


def _reading(gauge: Gauge, value_mm: float) -> Reading:
    text = _shown(gauge, value_mm)
    return Reading(
        value_mm=float(text),
        resolution_mm=gauge.step_mm,
        displayed=text,
        unit=LengthUnit.MM,
        raw=text.encode(),
    )


def _shown(gauge: Gauge, value_mm: float) -> str:
    return f"{value_mm:.{round(-math.log10(gauge.step_mm))}f}"


def _shown_mm(gauge: Gauge, value_mm: float) -> float:
    return float(_shown(gauge, value_mm))


def _gauge_record(gauge: Gauge, benches: Benches, index: int) -> GaugeRecord:
    u_mm = U_CERTIFICATE_STEPS * gauge.step_mm
    return GaugeRecord(
        gauge_id=gauge.gauge_id,
        kind=gauge.kind,
        certificate=tuple(
            CertificatePoint(size_mm=size_mm, correction_mm=0.0, expanded_u_mm=2.0 * u_mm)
            for size_mm in CERTIFIED_MM
        ),
        jaw_flats=JawFlats(width_mm=KNOWN_FLATS_MM, u_mm=U_FLATS_MM),
        anvils=CALIBRATED_ANVILS,
        checks=(_check(gauge, benches, index),),
    )


def _check(gauge: Gauge, benches: Benches, index: int) -> GaugeCheck:
    zero = zero_found(_series(gauge, ZERO, benches.check_zeros[gauge.gauge_id][index]))
    length = length_found(
        _series(gauge, "known length", benches.check_readings[gauge.gauge_id][index]),
        KnownLength(value_mm=KNOWN_LENGTH_MM),
        zero,
        mpe_mm=gauge.mpe_mm,
        tolerance_mm=TOLERANCE_MM[gauge.kind],
    )
    return GaugeCheck(checked_utc=MIDNIGHT, job_id=1, zero=zero, lengths=(length,))
