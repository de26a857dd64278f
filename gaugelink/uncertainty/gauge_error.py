"""The error of a gauge: its certificate, else its MPE, and its zero before and after the job.

All sizes of one gauge share these influences. A certificate was made in one sitting
against one set of references, so its uncertainty runs along the whole range together.

The zero is taken to run straight from the one check to the other. How much of their
difference d is drift, and how much the scatter of two closings, is told by what one
closing scatters, u_1: without any drift d^2 is 2 u_1^2 on average. So the zero of readings
taken when the share s of the time between had gone is, in mm::

    zero = (before + after) / 2 + k (s - 1/2) d        k = max(1 - 2 u_1^2 / d^2, 0)

    e_close  scatter of the mean of the two, u_1 / sqrt(2)             shared by the gauge
    e_slope  scatter of half their difference, u_1 / sqrt(2),
             with the factor k (2 s - 1)                               shared by the gauge
    e_drift  straying from the straight line: up to half of the drift
             midway, nothing at the checks                             own
    e_zero   digital step of the zero indications                      shared by the gauge
    e_unseen straying since the last zero, where none was read after   own

e_drift is of each measurand its own. Where s is not known it is taken as 1/2: then the
zero is off to one side early in the job and to the other late, and an influence that
all measurands shared would cancel where it adds up.

Without a zero after a measurand nothing tells how far the zero strayed by then: e_unseen lies
within five steps, the most by which closed jaws may be off in mid job (common practice), or
within the MPE or the drift of the gauge's last check, where that is more (judgement). It is
at most 0.1 mm, beyond which no zero is taken at all (common practice).

Faces. The error of one pair of faces: of the gauge and of these faces, as their checks left it.

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

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

from gaugelink.gauge_record import (
    CertificatePoint,
    Face,
    GaugeRecord,
    LengthFound,
    Repeatability,
    short_source,
)
from gaugelink.model import GaugeInfo
from gaugelink.uncertainty.estimate import Influence, Shape, Term, bounded
from gaugelink.uncertainty.scatter import repeats_to_mm, scatters_more


class Correction(NamedTuple):
    """What to add to an indication, in mm, and the influences that this brings in."""

    value_mm: float
    terms: tuple[Term, ...]


class _Place(NamedTuple):
    """Between which two points an indication lies; ``share`` of the way from one to the other."""

    before: CertificatePoint
    after: CertificatePoint
    share: float

    def between(self, at_before: float, at_after: float) -> float:
        return at_before + self.share * (at_after - at_before)


def correction_at(
    indication_mm: float, gauge: GaugeInfo, certificate: Sequence[CertificatePoint], label: str
) -> Correction:
    """Return the correction of an indication with its influences, in mm.

    Without a certificate there is none, and the error lies within +-MPE, one unknown
    constant for all sizes: an MPE says nothing of how the error runs. With one, the
    correction runs straight from point to point, and from nothing at zero, where the
    gauge was set; between two points it may stray by up to half of what they differ by,
    most in the middle. Beyond the last point its correction is kept, and the MPE holds.

    Args:
        indication_mm: the indication, zero already taken out.
        gauge: the gauge, with its MPE.
        certificate: points in order of size; may be empty.
        label: of the measurand, whose own the straying is.
    """
    mpe = Term(influence=bounded(_mpe_label(gauge), gauge.mpe_mm))
    if not certificate:
        return Correction(value_mm=0.0, terms=(mpe,))
    place = _place(indication_mm, certificate)
    value_mm = place.between(place.before.correction_mm, place.after.correction_mm)
    terms = [*_stated(place, certificate, gauge.gauge_id), _straying(place, label)]
    if indication_mm > certificate[-1].size_mm:
        terms.append(mpe)
    return Correction(value_mm=value_mm, terms=tuple(terms))


def _mpe_label(gauge: GaugeInfo) -> str:
    limit, source = f"MPE ±{gauge.mpe_mm:g} mm", short_source(gauge.mpe_source)
    return f"{limit} ({source}), {gauge.gauge_id}"


def _place(indication_mm: float, certificate: Sequence[CertificatePoint]) -> _Place:
    first, last = certificate[0], certificate[-1]
    zero = CertificatePoint(
        size_mm=0.0, correction_mm=0.0, expanded_u_mm=first.expanded_u_mm, k=first.k
    )
    points = certificate if first.size_mm == 0.0 else (zero, *certificate)
    for before, after in pairwise(points):
        if indication_mm <= after.size_mm:
            share = (indication_mm - before.size_mm) / (after.size_mm - before.size_mm)
            return _Place(before=before, after=after, share=max(share, 0.0))
    return _Place(before=last, after=last, share=0.0)


def _stated(
    place: _Place, certificate: Sequence[CertificatePoint], gauge_id: str
) -> Iterator[Term]:
    """One influence for the whole certificate; its factor follows the stated uncertainty."""
    largest_mm = max(point.u_mm for point in certificate)
    if largest_mm > 0.0:
        shared = Influence(label=f"{gauge_id} certificate", kind="B", u=largest_mm)
        u_mm = place.between(place.before.u_mm, place.after.u_mm)
        yield Term(influence=shared, factor=u_mm / largest_mm)


def _straying(place: _Place, label: str) -> Term:
    apart_mm = abs(place.after.correction_mm - place.before.correction_mm)
    hump = 4.0 * place.share * (1.0 - place.share)  # 0 at the points, 1 midway
    between = f"{label} between two points of the certificate"
    return Term(influence=bounded(between, hump * apart_mm / 2.0))


FEWEST_DOF = 3  # below, a t distribution has no variance: JCGM 101:2008, 6.4.9


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroCheck:
    """What a gauge showed with its faces closed before the job and, if asked, after it.

    ``resolution_mm`` is the digital step of these indications. One check serves all
    measurands of its gauge; ``share`` is how much of the time from the zero before to the
    zero after had gone when the readings of one were taken, 0 to 1. ``which`` tells them from
    other zeros of that gauge in the job; what they bring in is not one influence then. ``hand``
    is how the readings of the gauge scatter in the job, None where they do not tell.
    ``is_open`` says that the measurand was read after the last zero.
    """

    before_mm: float
    after_mm: float | None
    resolution_mm: float
    share: float = 0.5
    which: str = ""
    hand: Repeatability | None = None
    is_open: bool = False

    @property
    def ends_unseen(self) -> bool:
        """True when no zero was looked at after the readings."""
        return self.is_open or self.after_mm is None

    @property
    def correction_mm(self) -> float:
        """The mean zero indication, in mm."""
        if self.after_mm is None:
            return self.before_mm
        return (self.before_mm + self.after_mm) / 2.0

    @property
    def half_change_mm(self) -> float:
        """Half of zero after less zero before, in mm; 0 when it was not looked at again."""
        return 0.0 if self.after_mm is None else (self.after_mm - self.before_mm) / 2.0

    @property
    def half_drift_mm(self) -> float:
        """The same without its sign."""
        return abs(self.half_change_mm)

    @property
    def n_closings(self) -> int:
        """How many closings the correction is the mean of."""
        return 1 if self.after_mm is None else 2


class Zero(NamedTuple):
    """The zero to subtract from a mean indication, in mm, and the influences it brings in."""

    value_mm: float
    terms: tuple[Term, ...]


def zero_at(check: ZeroCheck, gauge: GaugeInfo, record: GaugeRecord | None, measurand: str) -> Zero:
    """Return the zero in mm when a measurand was read; the equation is above.

    It is subtracted, hence the factors below zero. The mean of two zero indications keeps the
    whole step: they mostly show the same digits. The straying is the measurand's own.
    """
    closing = _closing(gauge, check, record)
    drift = _drift(check, closing.u)
    late = 2.0 * check.share - 1.0
    stray_mm = (1.0 - late * late) * drift.half_mm
    slope = replace(closing, label=f"{gauge.gauge_id}{check.which} zero slope")
    terms = (
        _minus(bounded(f"{measurand} zero drift", stray_mm)),
        _minus(
            bounded(f"{gauge.gauge_id}{check.which} zero resolution", check.resolution_mm / 2.0)
        ),
        _minus(closing),
        _minus(slope, drift.known * late),
        *((_minus(_unseen(check, gauge, record, measurand)),) if check.ends_unseen else ()),
    )
    return Zero(
        value_mm=check.correction_mm + drift.known * late * check.half_change_mm,
        terms=tuple(term for term in terms if term.factor),
    )


class _Drift(NamedTuple):
    """Half of the drift in mm, and which part of the difference of the zeros is known as such."""

    half_mm: float
    known: float


def _drift(check: ZeroCheck, u_closing_mm: float) -> _Drift:
    square = check.half_drift_mm**2 - u_closing_mm**2
    if square <= 0.0:
        return _Drift(half_mm=0.0, known=0.0)
    return _Drift(half_mm=math.sqrt(square), known=square / check.half_drift_mm**2)


UNSEEN_STEPS = 5  # common practice: closed jaws are off by no more in mid job
UNSEEN_MOST_MM = 0.1  # common practice: farther off, no zero is taken


def unseen_drift_mm(check: ZeroCheck, gauge: GaugeInfo, record: GaugeRecord | None) -> float:
    """Return how far in mm the zero may stray where nobody looked at it again; reasons above."""
    last = record.last_check if record else None
    drifted_mm = abs(last.zero.drift_mm) if last else 0.0
    by_steps_mm = UNSEEN_STEPS * check.resolution_mm
    return min(max(by_steps_mm, gauge.mpe_mm, drifted_mm), UNSEEN_MOST_MM)


def _unseen(
    check: ZeroCheck, gauge: GaugeInfo, record: GaugeRecord | None, measurand: str
) -> Influence:
    limit_mm = unseen_drift_mm(check, gauge, record)
    return bounded(f"{measurand} zero drift, no zero after (±{limit_mm:g} mm, judgement)", limit_mm)


def _minus(influence: Influence, factor: float = 1.0) -> Term:
    return Term(influence=influence, factor=-factor)


def _closing(gauge: GaugeInfo, check: ZeroCheck, record: GaugeRecord | None) -> Influence:
    """From the zeros of the gauge's last check, else what it repeats to, at each closing.

    The same hand closes the faces: where it scatters more in this job, that counts.
    """
    label = f"{gauge.gauge_id}{check.which} zero repeatability"
    share = 1.0 / math.sqrt(check.n_closings)
    last = record.last_check if record else None
    if last is None or last.zero.dof < FEWEST_DOF:
        closes_mm = repeats_to_mm(gauge.kind, check.resolution_mm)
        assumed = "one step" if closes_mm == check.resolution_mm else f"{closes_mm:g} mm"
        known = bounded(f"{label} ({assumed} assumed)", share * closes_mm)
        shakes = check.hand is not None and share * check.hand.std_mm > known.u
    else:
        known = _student(label, share, Repeatability(std_mm=last.zero.std_mm, dof=last.zero.dof))
        shakes = check.hand is not None and scatters_more(check.hand, last.zero.std_mm, known.dof)
    if check.hand is not None and shakes:
        return replace(_student(f"{label} (as the hand scatters)", share, check.hand), kind="B")
    return known


def _student(label: str, share: float, scatter: Repeatability) -> Influence:
    return Influence(
        label=label,
        kind="A",
        u=share * scatter.std_mm,
        shape=Shape.STUDENT,
        dof=float(scatter.dof),
    )


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
