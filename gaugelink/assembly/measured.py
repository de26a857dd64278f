"""The measured sizes of a job with their uncertainty, and what must be said beside them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from gaugelink.assembly.parts import (
    Measured,
    finest_step_mm,
    hand_beside,
    read_after_last_zero,
    share_gone,
    zero_around,
)
from gaugelink.capture.plan import JobRecord
from gaugelink.gauge_record import (
    CORRECTED,
    Face,
    GaugeRecord,
    correction_in_words,
    gauge_advice,
    never_checked,
    taken_to_keep,
    with_record,
)
from gaugelink.model import Advice, GaugeInfo
from gaugelink.statistics.moments import mean
from gaugelink.uncertainty.estimate import Estimate, Quantity
from gaugelink.uncertainty.evaluate import evaluate
from gaugelink.uncertainty.gauge_error import ZeroCheck, unseen_drift_mm
from gaugelink.uncertainty.measurand_model import (
    ARBOR,
    BORE,
    Found,
    face_of,
    form_found_mm,
    used_readings_mm,
)
from gaugelink.units import spoken

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
        record: the job as it is.
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
        f"which agree: a slip more likely than {form}."
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

    The sizing's own evaluation with nothing to compute, so that a size has one interval
    wherever it is shown. What the sizes have in common is not seen here; the sizing keeps it.
    """
    return evaluate(dict, list(quantities.values()), units={}).inputs if quantities else ()


def measured_doubts(
    found: Mapping[str, Found], gauge_records: Mapping[str, GaugeRecord], now: datetime
) -> tuple[Advice, ...]:
    """Return what a result must say of the gauges and the parts behind it.

    Args:
        found: what was found out about the measurands that the result was made of.
        gauge_records: what is known of the gauges now, by identity.
        now: the present moment, with its time zone.

    Returns:
        Checks that failed or are overdue, a gauge at a time; what is corrected by a check;
        gauges and faces that nobody checked; then an oval bore, or the one reading that makes
        it look oval, and a snail-shaped hub.
    """
    gauge_ids = dict.fromkeys(each.gauge.gauge_id for each in found.values())
    known = [gauge_records[gauge_id] for gauge_id in gauge_ids if gauge_id in gauge_records]
    return (
        *(
            Advice(code=advice.code, text=advice.text)
            for gauge in known
            for advice in gauge_advice(gauge, check_age_days(gauge, now))
        ),
        *_zeros_unseen(found),
        *_corrected(found, gauge_records),
        *never_checked([*_on_trust(found, gauge_records)]),
        *_forms_seen(found),
    )


def _on_trust(
    found: Mapping[str, Found], gauge_records: Mapping[str, GaugeRecord]
) -> Iterator[str]:
    """Name each gauge that nobody checked, and of the others the faces that were used unchecked."""
    used: dict[str, tuple[GaugeInfo, set[Face]]] = {}
    for name, each in found.items():
        used.setdefault(each.gauge.gauge_id, (each.gauge, set()))[1].add(face_of(name))
    for gauge_id, (gauge, faces) in used.items():
        record = gauge_records.get(gauge_id)
        limits = with_record(gauge, record)
        limit_mm, source = limits.mpe_mm, limits.mpe_source
        if record is None or record.is_trusted_unseen:
            yield taken_to_keep(gauge.kind, gauge_id, limit_mm, source)
            continue
        open_ = record.unchecked(face for face in Face if face in faces)
        if Face.OUTSIDE in open_ and not record.certificate:
            yield taken_to_keep(gauge.kind, gauge_id, limit_mm, source, [Face.OUTSIDE])
        if others := [face for face in open_ if face is not Face.OUTSIDE]:
            limit_mm += limits.shift_mpe_mm
            yield taken_to_keep(gauge.kind, gauge_id, limit_mm, source, others)


def _zeros_unseen(found: Mapping[str, Found]) -> Iterator[Advice]:
    """Say in one sentence which sizes have no zero after them, and by how much that widens them."""
    limits: dict[str, tuple[float, list[str]]] = {}
    for name, each in found.items():
        if each.zero is not None and each.zero.ends_unseen:
            limit_mm = unseen_drift_mm(each.zero, each.gauge, each.record)
            most_mm, names = limits.get(each.gauge.kind, (0.0, []))
            limits[each.gauge.kind] = max(most_mm, limit_mm), [*names, spoken(name)]
    said = (
        f"{kind} ±{limit_mm:g} mm ({', '.join(names)})"
        for kind, (limit_mm, names) in limits.items()
    )
    if limits:
        text = "No zero was read after the last sizes; it may have moved since (judgement): "
        yield Advice(code="no-last-zero", text=f"{text}{'; '.join(said)}.")


def _corrected(
    found: Mapping[str, Found], gauge_records: Mapping[str, GaugeRecord]
) -> Iterator[Advice]:
    """Say once for each pair of faces by how much what they read is corrected, or why it is not."""
    told: dict[str, None] = {}
    for name, each in found.items():
        record, face = gauge_records.get(each.gauge.gauge_id), face_of(name)
        if record is not None and face in record.corrected:
            check = record.correcting(face, each.summary.mean_mm)
            told[correction_in_words(record, face, check)] = None
    yield from (Advice(code=CORRECTED, text=text) for text in told)


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
    is_open = read_after_last_zero(record, gauge_id, measurand)
    zero = replace(zero, share=share, hand=part.zero.hand, is_open=is_open)
    return _seen_through(part, measurand, zero) if part.gauge.is_typed else zero


def _seen_through(part: Measured, measurand: str, zero: ZeroCheck) -> ZeroCheck:
    """Give a typed zero the step of its measurand: the values of two gauges may be typed."""
    read = (series.readings for series in part.series if series.measurand == measurand)
    step_mm = finest_step_mm(reading for readings in read for reading in readings)
    if step_mm == zero.resolution_mm:
        return zero
    which = f"{zero.which} (read to {step_mm:g} mm)"
    return replace(zero, resolution_mm=step_mm, which=which)


def _forms_seen(found: Mapping[str, Found]) -> Iterator[Advice]:
    spans_mm = {name: form_found_mm(each) for name, each in found.items()}
    for name in (BORE, ARBOR):
        if spans_mm.get(name) and (slip := slip_seen(found[name])):
            yield Advice(
                code=f"{name}-one-apart",
                text=f"{slip} It counts in the mean; if it was a slip, measure the {name} again "
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
