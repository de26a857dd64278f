"""The measured sizes of a job with their uncertainty, as the sizing takes them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from gaugelink.assembly.parts import NO_RECORDS, Measured, measured_parts
from gaugelink.assembly.zero_times import share_gone
from gaugelink.capture.plan import JobRecord
from gaugelink.errors import SizingError
from gaugelink.gauge_record import GaugeRecord
from gaugelink.sizing.inputs import GivenSpring
from gaugelink.statistics.outlier_method import OutlierMethod
from gaugelink.uncertainty.coverage import coverage_factor
from gaugelink.uncertainty.estimate import Estimate, Quantity
from gaugelink.uncertainty.first_order import LinearOutput, propagate
from gaugelink.uncertainty.gauge_error import ZeroCheck
from gaugelink.uncertainty.measurand_model import Found, measured_quantity, used_readings_mm

COVERAGE = 0.95


def measured_quantities(
    record: JobRecord,
    gauge_records: Mapping[str, GaugeRecord] = NO_RECORDS,
    treatment: OutlierMethod = OutlierMethod.GRUBBS,
) -> dict[str, Quantity]:
    """Return the measured quantities of a job by measurand, with their uncertainty.

    Args:
        record: the job as it stands.
        gauge_records: what is known of its gauges now, by identity.
        treatment: the test for outlying readings.
    """
    found = found_in(record, gauge_records, treatment)
    return {name: measured_quantity(each) for name, each in found.items()}


def measured_estimates(
    record: JobRecord,
    gauge_records: Mapping[str, GaugeRecord] = NO_RECORDS,
    treatment: OutlierMethod = OutlierMethod.GRUBBS,
) -> tuple[Estimate, ...]:
    """Return the measured sizes of a job in mm, in plan order a gauge, each by itself.

    u and dof are those of first order, the interval is value +- k u at 95 % (GUM 6.2
    and G.4). What the sizes have in common is not seen here; the sizing keeps it.

    Args:
        record: the job as it stands.
        gauge_records: what is known of its gauges now, by identity.
        treatment: the test for outlying readings.
    """
    quantities = measured_quantities(record, gauge_records, treatment)
    return tuple(map(_estimate, propagate(dict, list(quantities.values()))))


def found_in(
    record: JobRecord, gauge_records: Mapping[str, GaugeRecord], treatment: OutlierMethod
) -> dict[str, Found]:
    """Return all that was found out about each measurand of a job, by name."""
    return {
        series.measurand: Found(
            summary=summary,
            used_mm=used_readings_mm([r.value_mm for r in series.readings], summary),
            gauge=part.gauge,
            zero=_zero_when_read(record, part, series.measurand),
            record=gauge_records.get(part.gauge.gauge_id),
            depth_reference=record.setup.plan.depth_reference,
        )
        for part in measured_parts(record, treatment, gauge_records)
        for series, summary in zip(part.series, part.summaries, strict=True)
    }


def _zero_when_read(record: JobRecord, part: Measured, measurand: str) -> ZeroCheck | None:
    if part.zero is None:
        return None
    return replace(part.zero, share=share_gone(record, part.gauge.gauge_id, measurand))


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


def _estimate(size: LinearOutput) -> Estimate:
    expanded_u = coverage_factor(COVERAGE, size.dof) * size.u
    return Estimate(
        label=size.label,
        value=size.value,
        u=size.u,
        dof=size.dof,
        unit="mm",
        low=size.value - expanded_u,
        high=size.value + expanded_u,
    )
