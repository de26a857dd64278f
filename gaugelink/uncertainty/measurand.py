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
             both as a check of these faces left them: see ``gauge_error``
    e_0      what closing the faces leaves open of the zero      see ``zero``

Every e has the best value zero. Averaging does not reduce e_res while readings of one
place round the same way. Readings that scatter round this way and that: their mean is
then off by step / pi exp(-2 (pi s / step)^2) at most, and the rounding shows in s like
any other scatter. So the step counts beside a small scatter, and within a large one, as
in ISO 14253-2 (from memory), which takes the larger of the two. Between the two as much of
the step is left as keeps the two together from falling: with s_0 of ``DITHERED_STEPS``,

    u_res^2 = step^2 / 12 - (s^2 - s_0^2) / n,  0 at the least, for s > s_0

What a measurand adds of its own is in ``measurand_model``.
"""

from __future__ import annotations

import math

from gaugelink.gauge_record import Face as Face
from gaugelink.gauge_record import GaugeRecord, Repeatability, with_record
from gaugelink.model import GaugeInfo, Summary
from gaugelink.uncertainty import estimate
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term
from gaugelink.uncertainty.gauge_error import Zero, face_correction, zero_at
from gaugelink.uncertainty.gauge_error import ZeroCheck as ZeroCheck
from gaugelink.uncertainty.scatter import scatter_of_mean, scatter_of_one

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
    hand: Repeatability | None = None,
) -> Quantity:
    """Return the corrected indication in mm with all its influences.

    The equation is at the top of this module. A single reading says nothing of its scatter;
    what the gauge repeats to, or ``hand``, the scatter of its other series, stands in for it,
    kind B, and the influence's label says so. Without a zero check nothing is corrected, and the
    MPE has to cover a zero that is off. The limits of ``record`` go before those of ``gauge``.

    Raises:
        ValueError: the summary was not taken with this gauge.
    """
    if summary.gauge_id != gauge.gauge_id:
        raise ValueError(f"{summary.measurand} was not measured with {gauge.gauge_id}")
    limits = with_record(gauge, record)
    closed = zero_at(zero, gauge, record, summary.measurand) if zero else _NO_ZERO
    indication_mm = summary.mean_mm - closed.value_mm
    correction = face_correction(indication_mm, face, limits, record, summary.measurand)
    own = (_repeatability(summary, gauge, record, hand), _indication_step(summary, record))
    terms = (
        *(Term(influence=influence) for influence in own),
        *correction.terms,
        *closed.terms,
    )
    present = tuple(term for term in terms if term.influence.u > 0.0)
    value_mm = indication_mm + correction.value_mm
    return Quantity(label=summary.measurand, value=value_mm, terms=present)


def _repeatability(
    summary: Summary,
    gauge: GaugeInfo,
    record: GaugeRecord | None,
    hand: Repeatability | None,
) -> Influence:
    if summary.u_mean_mm is not None:
        return scatter_of_mean(summary, record)
    label = f"{summary.measurand} repeatability"
    return scatter_of_one(label, gauge.kind, summary.resolution_mm, record, hand)


def _indication_step(summary: Summary, record: GaugeRecord | None) -> Influence:
    """Let the scatter take the place of the step: the equation is at the top."""
    step_mm = max(summary.resolution_mm, (record and record.resolution_mm) or 0.0)
    beyond_mm2 = max((summary.std_mm or 0.0) ** 2 - (DITHERED_STEPS * step_mm) ** 2, 0.0)
    left_mm2 = max(step_mm**2 - 12.0 * beyond_mm2 / summary.n_used, 0.0)
    return _step(f"{summary.measurand} resolution", math.sqrt(left_mm2))


def _step(label: str, step_mm: float) -> Influence:
    return Influence(label=label, kind="B", u=estimate.resolution(step_mm), shape=Shape.RECTANGULAR)
