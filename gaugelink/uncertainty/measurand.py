"""From the summary of a series, or a typed value, to an input quantity with its influences.

The corrected indication, common to all measurands, all in mm::

    y = (mean - zero) + c + e_rep + e_res + e_gauge + e_shift - e_drift - e_zero - e_close

    mean     mean indication of the readings that were used
    zero     mean of the zero indications before and after
    c        correction by the gauge's certificate, if there is one
    e_rep    scatter of the mean, type A                         own
    e_res    digital step of the indications                     own
    e_gauge  error of the gauge: within its MPE, or that of c    shared by the gauge
    e_shift  what inside jaws or depth rod add (scale shift)     shared by gauge and face
    e_drift  drift of the zero between the two checks            shared by the gauge
    e_zero   digital step of the zero indications                shared by the gauge
    e_close  scatter of closing the faces, a zero at a time      shared by the gauge

Every e has the best value zero. Averaging does not reduce e_res: readings of one
place round the same way. What a measurand adds of its own stands in
``measurand_model``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from gaugelink.errors import InputError
from gaugelink.gauge_record import GaugeRecord, with_record
from gaugelink.model import GaugeInfo, Summary
from gaugelink.uncertainty import type_b
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term
from gaugelink.uncertainty.gauge_error import correction_at

FEWEST_DOF = 3  # below, a t distribution has no variance: JCGM 101:2008, 6.4.9


class Face(StrEnum):
    """Which measuring faces of the gauge touched the part."""

    OUTSIDE = "outside"
    INSIDE = "inside"
    DEPTH = "depth"


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroCheck:
    """What a gauge showed with its faces closed before the job and, if asked, after it.

    ``resolution_mm`` is the digital step of these indications. One check serves
    all measurands of its gauge.
    """

    before_mm: float
    after_mm: float | None
    resolution_mm: float

    @property
    def correction_mm(self) -> float:
        """The zero indication to subtract from every reading, in mm."""
        if self.after_mm is None:
            return self.before_mm
        return (self.before_mm + self.after_mm) / 2.0

    @property
    def half_drift_mm(self) -> float:
        """Half the change of the zero over the job, in mm; 0 when it was not looked at again."""
        return 0.0 if self.after_mm is None else abs(self.after_mm - self.before_mm) / 2.0

    @property
    def n_closings(self) -> int:
        """How many closings the correction is the mean of."""
        return 1 if self.after_mm is None else 2


def quantity_from_summary(
    summary: Summary,
    gauge: GaugeInfo,
    zero: ZeroCheck | None,
    face: Face,
    record: GaugeRecord | None = None,
) -> Quantity:
    """Return the corrected indication in mm with all its influences.

    The equation stands at the top of this module. A single reading says nothing
    of its scatter; one digital step either way stands in for it, kind B, and the
    influence's label says so. The same goes for a zero that was never repeated.

    Args:
        summary: readings of one measurand, reduced.
        gauge: the gauge that took them.
        zero: its zero check, or None when none was made: then nothing is
            corrected, and the MPE has to cover a zero that is off.
        face: the faces that touched the part.
        record: what is known of the gauge; its limits go before those of ``gauge``.

    Raises:
        ValueError: the summary was not taken with this gauge.
    """
    if summary.gauge_id != gauge.gauge_id:
        raise ValueError(f"{summary.measurand} was not measured with {gauge.gauge_id}")
    limits = with_record(gauge, record)
    indication_mm = summary.mean_mm - (zero.correction_mm if zero else 0.0)
    certificate = record.certificate if record else ()
    correction = correction_at(indication_mm, limits, certificate, summary.measurand)
    own = (_repeatability(summary), _indication_step(summary, record))
    terms = (
        *(Term(influence=influence) for influence in own),
        *correction.terms,
        *_shift_terms(limits, face),
        *_zero_terms(gauge, zero, record),
    )
    present = tuple(term for term in terms if term.influence.u > 0.0)
    value_mm = indication_mm + correction.value_mm
    return Quantity(label=summary.measurand, value=value_mm, terms=present)


def quantity_from_typed(label: str, value: float, u: float, unit: str = "mm") -> Quantity:
    """Return a typed value with its stated standard uncertainty, taken as normal and known.

    Args:
        label: name of the quantity.
        value: the value, in ``unit``.
        u: standard uncertainty in ``unit``; 0 makes the value exact.
        unit: unit of both.

    Raises:
        InputError: the value is not finite, or u is negative or not finite.
    """
    if not math.isfinite(value):
        raise InputError(f"{label} is not a number.", hint="Type it in digits, such as 11.02.")
    if not (math.isfinite(u) and u >= 0.0):
        raise InputError(
            f"The standard uncertainty of {label} cannot be {u:g}.",
            hint="State it as a number that is zero or more.",
        )
    terms = (Term(influence=Influence(label=f"{label} as typed", kind="B", u=u)),) if u else ()
    return Quantity(label=label, value=value, unit=unit, terms=terms)


def _repeatability(summary: Summary) -> Influence:
    if summary.u_mean_mm is None:
        return _bounded(
            f"{summary.measurand} repeatability (one reading, one step assumed)",
            summary.resolution_mm,
        )
    return Influence(
        label=f"{summary.measurand} repeatability",
        kind="A",
        u=summary.u_mean_mm,
        shape=Shape.STUDENT,
        dof=float(summary.dof),
    )


def _indication_step(summary: Summary, record: GaugeRecord | None) -> Influence:
    step_mm = max(summary.resolution_mm, (record and record.resolution_mm) or 0.0)
    return _step(f"{summary.measurand} resolution", step_mm)


def _shift_terms(gauge: GaugeInfo, face: Face) -> tuple[Term, ...]:
    if face is Face.OUTSIDE:
        return ()
    label = f"{gauge.gauge_id} {face.value} scale shift"
    return (Term(influence=_bounded(label, gauge.shift_mpe_mm)),)


def _zero_terms(
    gauge: GaugeInfo, zero: ZeroCheck | None, record: GaugeRecord | None
) -> tuple[Term, ...]:
    """The zero is subtracted, hence the factor -1.

    The mean of two zero indications keeps the whole step: they mostly show the same digits.
    """
    if zero is None:
        return ()
    drift = _bounded(f"{gauge.gauge_id} zero drift", zero.half_drift_mm)
    step = _step(f"{gauge.gauge_id} zero resolution", zero.resolution_mm)
    closing = _closing(gauge.gauge_id, zero, record)
    return tuple(Term(influence=influence, factor=-1.0) for influence in (drift, step, closing))


def _closing(gauge_id: str, zero: ZeroCheck, record: GaugeRecord | None) -> Influence:
    """From the zeros of the gauge's last check, else one step either way at each closing."""
    label, share = f"{gauge_id} zero repeatability", 1.0 / math.sqrt(zero.n_closings)
    check = record.last_check if record else None
    if check is None or check.zero.dof < FEWEST_DOF:
        return _bounded(f"{label} (one step assumed)", share * zero.resolution_mm)
    return Influence(
        label=label,
        kind="A",
        u=share * check.zero.std_mm,
        shape=Shape.STUDENT,
        dof=float(check.zero.dof),
    )


def _bounded(label: str, half_width_mm: float) -> Influence:
    u = type_b.rectangular(half_width_mm)
    return Influence(label=label, kind="B", u=u, shape=Shape.RECTANGULAR)


def _step(label: str, step_mm: float) -> Influence:
    return Influence(label=label, kind="B", u=type_b.resolution(step_mm), shape=Shape.RECTANGULAR)
