"""From the summary of a series, or a typed value, to an input quantity with its influences.

The measurement equation, all in mm::

    x = (mean - zero) + e_rep + e_res + e_gauge + e_shift - e_drift - e_zero

    mean     mean indication of the readings that were used
    zero     mean of the zero indications before and after
    e_rep    scatter of the mean, type A                         own
    e_res    digital step of the indications                     own
    e_gauge  error of the gauge within its MPE                   shared by the gauge
    e_shift  what inside jaws or depth rod add (scale shift)     shared by gauge and face
    e_drift  drift of the zero between the two checks            shared by the gauge
    e_zero   digital step of the zero indications                shared by the gauge

Every e has the best value zero. Averaging does not reduce e_res: readings of one
place round the same way. The gauge's error is taken as one unknown constant over
its range, because an MPE says nothing of how the error runs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from gaugelink.errors import InputError
from gaugelink.model import GaugeInfo, Summary
from gaugelink.uncertainty import type_b
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term


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


def quantity_from_summary(
    summary: Summary, gauge: GaugeInfo, zero: ZeroCheck | None, face: Face
) -> Quantity:
    """Return a measured length in mm with all its influences.

    The equation stands at the top of this module. A single reading says nothing
    of its scatter; one digital step either way stands in for it, kind B, and the
    influence's label says so.

    Args:
        summary: readings of one measurand, reduced.
        gauge: the gauge that took them.
        zero: its zero check, or None when none was made: then nothing is
            corrected, and the MPE has to cover a zero that is off.
        face: the faces that touched the part.

    Returns:
        The quantity, labelled by its measurand.

    Raises:
        ValueError: the summary was not taken with this gauge.
    """
    if summary.gauge_id != gauge.gauge_id:
        raise ValueError(f"{summary.measurand} was not measured with {gauge.gauge_id}")
    terms = (
        Term(influence=_repeatability(summary)),
        Term(influence=_indication_step(summary)),
        Term(influence=_gauge_error(gauge)),
        *_shift_terms(gauge, face),
        *_zero_terms(gauge, zero),
    )
    return Quantity(
        label=summary.measurand,
        value=summary.mean_mm - (zero.correction_mm if zero else 0.0),
        terms=tuple(term for term in terms if term.influence.u > 0.0),
    )


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


def _indication_step(summary: Summary) -> Influence:
    return _step(f"{summary.measurand} resolution", summary.resolution_mm)


def _gauge_error(gauge: GaugeInfo) -> Influence:
    return _bounded(f"{gauge.gauge_id} error", gauge.mpe_mm)


def _shift_terms(gauge: GaugeInfo, face: Face) -> tuple[Term, ...]:
    if face is Face.OUTSIDE:
        return ()
    label = f"{gauge.gauge_id} {face.value} scale shift"
    return (Term(influence=_bounded(label, gauge.shift_mpe_mm)),)


def _zero_terms(gauge: GaugeInfo, zero: ZeroCheck | None) -> tuple[Term, ...]:
    """The zero is subtracted, hence the factor -1.

    The mean of two zero indications keeps the whole step: they mostly show the same digits.
    """
    if zero is None:
        return ()
    drift = _bounded(f"{gauge.gauge_id} zero drift", zero.half_drift_mm)
    step = _step(f"{gauge.gauge_id} zero resolution", zero.resolution_mm)
    return (Term(influence=drift, factor=-1.0), Term(influence=step, factor=-1.0))


def _bounded(label: str, half_width_mm: float) -> Influence:
    u = type_b.rectangular(half_width_mm)
    return Influence(label=label, kind="B", u=u, shape=Shape.RECTANGULAR)


def _step(label: str, step_mm: float) -> Influence:
    return Influence(label=label, kind="B", u=type_b.resolution(step_mm), shape=Shape.RECTANGULAR)
