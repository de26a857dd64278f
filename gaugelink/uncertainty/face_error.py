"""The error of one pair of faces: of the gauge and of these faces, as their checks left it.

Nobody checked them, or they passed: what they read is off by the error of the gauge, within its
MPE or by its certificate, and inside and in depth by a scale shift S more, within its own limit.
A check that was passed proves that the limits hold; it does not narrow them by itself.

Its bias b, found at the known length L with the standard uncertainty u(b), may be taken off what
the faces read, where somebody said so. At a size l, all in mm::

    c = -b + e_check + e_away

    e_check  u(b), normal                                        shared by gauge and faces
    e_away   how far the error runs from L to l: within MPE |l - L| / 5 mm, and
             within MPE beyond 5 mm; judgement: the error of a    own
             capacitive scale repeats with its pitch of some 5 mm

Both together take the place of the whole MPE and of the shift, for b holds them both at L. A
certificate goes before a check of the outside faces.

Faces that failed a check may be off by |b| + g, g its guard band: that widens their limit, the
MPE of the outside faces, which the others have as well, else the shift, until they pass there.
"""

from __future__ import annotations

from dataclasses import replace

from gaugelink.gauge_record import Face, GaugeRecord, LengthFound
from gaugelink.model import GaugeInfo
from gaugelink.uncertainty.estimate import Influence, Term, bounded
from gaugelink.uncertainty.gauge_error import Correction, correction_at

STRAYS_WITHIN_MM = 5.0  # judgement, see above


def face_correction(
    indication_mm: float, face: Face, gauge: GaugeInfo, record: GaugeRecord | None, measurand: str
) -> Correction:
    """Return what to add to an indication in mm, with the influences of gauge and faces.

    Args:
        indication_mm: the indication, zero already taken out.
        face: the faces that read it.
        gauge: the gauge, with the limits that hold.
        record: what is known of it, its checks among that.
        measurand: what was read.
    """
    if record is None:
        return _within_limits(indication_mm, face, gauge, None, measurand)
    gauge = _widened(gauge, record, face)
    has_better = face is Face.OUTSIDE and record.certificate
    checked = None if has_better else record.correcting(face, indication_mm)
    if checked is not None:
        return _by_check(indication_mm, gauge, checked, measurand)
    return _within_limits(indication_mm, face, gauge, record, measurand)


def _within_limits(
    indication_mm: float, face: Face, gauge: GaugeInfo, record: GaugeRecord | None, measurand: str
) -> Correction:
    certificate = record.certificate if record else ()
    scale = correction_at(indication_mm, gauge, certificate, measurand)
    return scale._replace(terms=(*scale.terms, *_shift_terms(gauge, face)))


def _widened(gauge: GaugeInfo, record: GaugeRecord, face: Face) -> GaugeInfo:
    outside_mm, own_mm = (record.failed_reach_mm(each) for each in (Face.OUTSIDE, face))
    if outside_mm > gauge.mpe_mm:
        gauge = replace(gauge, mpe_mm=outside_mm, mpe_source="failed its check")
    return replace(gauge, shift_mpe_mm=max(gauge.shift_mpe_mm, own_mm))


def _shift_terms(gauge: GaugeInfo, face: Face) -> tuple[Term, ...]:
    if face is Face.OUTSIDE:
        return ()
    label = f"{gauge.gauge_id} {face.value} scale shift"
    return (Term(influence=bounded(label, gauge.shift_mpe_mm)),)


def _by_check(
    indication_mm: float, gauge: GaugeInfo, checked: LengthFound, measurand: str
) -> Correction:
    at = f"{checked.face} check at {checked.known_mm:.7g} mm"
    found = Influence(label=f"{gauge.gauge_id} {at}", kind="B", u=checked.u_bias_mm)
    part = min(abs(indication_mm - checked.known_mm) / STRAYS_WITHIN_MM, 1.0)
    away = bounded(f"{measurand} away from the {at}", part * gauge.mpe_mm)
    terms = (Term(influence=found), Term(influence=away))
    return Correction(value_mm=-checked.bias_mm, terms=terms)
