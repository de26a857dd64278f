"""The measured sizes of a job with their uncertainty, and what must be said beside them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from gaugelink.assembly.parts import Measured, hand_beside, share_gone, zero_around
from gaugelink.capture.plan import JobRecord
from gaugelink.gauge_record import GaugeRecord, gauge_advice
from gaugelink.model import Advice
from gaugelink.statistics.moments import mean
from gaugelink.uncertainty.coverage import coverage_factor
from gaugelink.uncertainty.estimate import Estimate, Quantity
from gaugelink.uncertainty.first_order import LinearOutput, propagate
from gaugelink.uncertainty.gauge_error import ZeroCheck
from gaugelink.uncertainty.measurand_model import (
    ARBOR,
    BORE,
    Found,
    form_found_mm,
    used_readings_mm,
)

COVERAGE = 0.95
_SECONDS_A_DAY = 86_400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """The sizes of a job in mm, by the model of each measurand, and the doubts beside them."""

    sizes: tuple[Estimate, ...]
    doubts: tuple[Advice, ...]


def found_in(
    record: JobRecord, parts: Sequence[Measured], gauge_records: Mapping[str, GaugeRecord]
) -> dict[str, Found]:
    """Return all that was found out about each measurand of a job, by name.

    Args:
        record: the job as it stands.
        parts: what each of its gauges found.
        gauge_records: what is known of its gauges now, by identity.
    """
    return {
        series.measurand: Found(
            summary=summary,
            used_mm=used_readings_mm([r.value_mm for r in series.readings], summary),
            gauge=part.gauge,
            zero=_zero_when_read(record, part, series.measurand),
            record=gauge_records.get(part.gauge.gauge_id),
            depth_reference=record.setup.plan.depth_reference,
            hand=hand_beside(part.summaries, series.measurand),
        )
        for part in parts
        for series, summary in zip(part.series, part.summaries, strict=True)
    }


def slip_seen(found: Found) -> str:
    """Say that one reading alone makes a part look other than round; empty where it does not."""
    alone_mm = found.alone_mm
    if alone_mm is None:
        return ""
    part, form = _LOOKS[found.summary.measurand]
    rest_mm = list(found.used_mm)
    rest_mm.remove(alone_mm)
    apart_mm = abs(alone_mm - mean(rest_mm))
    return (
        f"One reading of the {part}, {alone_mm:.2f} mm, lies {apart_mm:.2f} mm from the others, "
        f"which agree: a slip first, {form} second."
    )


_LOOKS: Mapping[str, tuple[str, str]] = {
    BORE: ("bore", "an oval bore"),
    ARBOR: ("arbor", "a hub that rises"),
}


def form_evidence(found: Found) -> str:
    """Say what a form that may be there is told by: what readings scatter, and what the gauge."""
    scatter_mm, own_mm = found.summary.std_mm or 0.0, found.own.std_mm
    return (
        f"{found.summary.n_used} readings scatter by {scatter_mm:.2g} mm, where gauge and hand "
        f"account for {own_mm:.2g} mm"
    )


def estimates_of(quantities: Mapping[str, Quantity]) -> tuple[Estimate, ...]:
    """Return measured sizes in mm, in the order given, each by itself.

    u and dof are those of first order, the interval is value +- k u at 95 % (GUM 6.2
    and G.4). What the sizes have in common is not seen here; the sizing keeps it.
    """
    return tuple(map(_estimate, propagate(dict, list(quantities.values()))))


def measured_doubts(
    found: Mapping[str, Found], gauge_records: Mapping[str, GaugeRecord], now: datetime
) -> tuple[Advice, ...]:
    """Return what a result must say of the gauges and the parts behind it.

    Args:
        found: what was found out about the measurands that the result was made of.
        gauge_records: what is known of the gauges now, by identity.
        now: the present moment, with its time zone.

    Returns:
        Checks that failed or are overdue, a gauge at a time; then an oval bore, or the one
        reading that makes it look oval, and a snail-shaped hub.
    """
    gauge_ids = dict.fromkeys(each.gauge.gauge_id for each in found.values())
    known = [gauge_records[gauge_id] for gauge_id in gauge_ids if gauge_id in gauge_records]
    return (
        *(
            Advice(code=advice.code, text=advice.text)
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


def _zero_when_read(record: JobRecord, part: Measured, measurand: str) -> ZeroCheck | None:
    if part.zero is None:
        return None
    gauge_id = part.gauge.gauge_id
    zero = zero_around(record, gauge_id, measurand) or part.zero
    share = share_gone(record, gauge_id, measurand)
    return replace(zero, share=share, hand=part.zero.hand)


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


def _forms_seen(found: Mapping[str, Found]) -> Iterator[Advice]:
    spans_mm = {name: form_found_mm(each) for name, each in found.items()}
    for name in (BORE, ARBOR):
        if spans_mm.get(name) and (slip := slip_seen(found[name])):
            yield Advice(
                code=f"{name}-one-apart",
                text=f"{slip} The mean has it; if it was a slip, measure the {name} anew "
                f"(--redo {name}).",
            )
        elif spans_mm.get(name):
            yield _form_advice(name, found[name], spans_mm[name])


def _form_advice(name: str, found: Found, span_mm: float) -> Advice:
    evidence = form_evidence(found)
    if name == BORE:
        return Advice(
            code="bore-out-of-round",
            text=f"The bore may be out of round, by about {span_mm:.2f} mm, largest less smallest "
            f"diameter: {evidence}. The mean is used.",
        )
    low_mm, high_mm = min(found.used_mm), max(found.used_mm)
    return Advice(
        code="arbor-snail",
        text=f"The hub of the arbor may not be round: its widths were read from {low_mm:.2f} to "
        f"{high_mm:.2f} mm; {evidence}. The mean of the widths is used.",
    )
