"""From the summary of a series to an input quantity with its influences.

The corrected indication, common to all measurands, all in mm::

    y = (mean - zero) + c + e_rep + e_res + e_gauge + e_shift - e_0

    mean     mean indication of the readings that were used
    zero     of the gauge when they were taken
    c        correction by the gauge's certificate, or by a check of the faces, if there is one
    e_rep    scatter of the mean, type A                         own
    e_res    digital step of the indications                     own
    e_gauge  error of the gauge: within its MPE, or that of c    shared by the gauge
    e_shift  what inside jaws or depth rod add (scale shift)     shared by gauge and face
             both as a check of these faces left them: see ``face_error``
    e_0      what closing the faces leaves open of the zero      see ``zero``

Every e has the best value zero. Averaging does not reduce e_res while readings of one
place round the same way. Readings that scatter round this way and that: their mean is
then off by step / pi exp(-2 (pi s / step)^2) at most, and the rounding shows in s like
any other scatter. So the step counts beside a small scatter, and within a large one, as
in ISO 14253-2 (from memory), which takes the larger of the two. What a measurand adds of
its own is in ``measurand_model``.
"""

from __future__ import annotations

from gaugelink.gauge_record import Face as Face
from gaugelink.gauge_record import GaugeRecord, with_record
from gaugelink.model import GaugeInfo, Summary
from gaugelink.uncertainty import estimate
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term, bounded
from gaugelink.uncertainty.face_error import face_correction
from gaugelink.uncertainty.gauge_error import Zero, zero_at
from gaugelink.uncertainty.gauge_error import ZeroCheck as ZeroCheck
from gaugelink.uncertainty.scatter import scatter_of_mean

# From this standard deviation on, in display steps, the scatter holds the rounding: the
# mean is off by 1.4 % of a step at most. Intervals of 3 to 20 readings, scatter (t) and
# step, then cover 94.8 % to 100 % for any scatter from none to two steps.
DITHERED_STEPS = 0.4

_NO_ZERO = Zero(value_mm=0.0, terms=())


def quantity_from_summary(
    summary: Summary,
    gauge: GaugeInfo,
    zero: ZeroCheck | None,
    face: Face,
    record: GaugeRecord | None = None,
) -> Quantity:
    """Return the corrected indication in mm with all its influences.

    The equation is at the top of this module. A single reading says nothing of its scatter;
    one digital step either way replaces it, kind B, and the influence's label says so. The
    same goes for a zero that was never repeated. Without a zero check nothing is corrected, and
    the MPE has to cover a zero that is off. The limits of ``record`` go before those of
    ``gauge``.

    Raises:
        ValueError: the summary was not taken with this gauge.
    """
    if summary.gauge_id != gauge.gauge_id:
        raise ValueError(f"{summary.measurand} was not measured with {gauge.gauge_id}")
    limits = with_record(gauge, record)
    closed = zero_at(zero, gauge, record, summary.measurand) if zero else _NO_ZERO
    indication_mm = summary.mean_mm - closed.value_mm
    correction = face_correction(indication_mm, face, limits, record, summary.measurand)
    own = (_repeatability(summary, record), _indication_step(summary, record))
    terms = (
        *(Term(influence=influence) for influence in own),
        *correction.terms,
        *closed.terms,
    )
    present = tuple(term for term in terms if term.influence.u > 0.0)
    value_mm = indication_mm + correction.value_mm
    return Quantity(label=summary.measurand, value=value_mm, terms=present)


def _repeatability(summary: Summary, record: GaugeRecord | None) -> Influence:
    if summary.u_mean_mm is None:
        return bounded(
            f"{summary.measurand} repeatability (one reading, one step assumed)",
            summary.resolution_mm,
        )
    return scatter_of_mean(summary, record)


def _indication_step(summary: Summary, record: GaugeRecord | None) -> Influence:
    """Leave the step out where the scatter holds it: see ``DITHERED_STEPS``."""
    step_mm = max(summary.resolution_mm, (record and record.resolution_mm) or 0.0)
    is_held = (summary.std_mm or 0.0) >= DITHERED_STEPS * step_mm
    return _step(f"{summary.measurand} resolution", 0.0 if is_held else step_mm)


def _step(label: str, step_mm: float) -> Influence:
    return Influence(label=label, kind="B", u=estimate.resolution(step_mm), shape=Shape.RECTANGULAR)
