"""The error of a gauge: from its certificate where there is one, else within its MPE.

All sizes of one gauge share these influences. A certificate was made in one sitting
against one set of references, so its uncertainty runs along the whole range together.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from gaugelink.gauge_record import CertificatePoint
from gaugelink.model import GaugeInfo
from gaugelink.uncertainty.estimate import Influence, Term, bounded


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """What to add to an indication, in mm, and the influences that this brings in."""

    value_mm: float
    terms: tuple[Term, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
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
    mpe = Term(influence=bounded(f"{gauge.gauge_id} error", gauge.mpe_mm))
    if not certificate:
        return Correction(value_mm=0.0, terms=(mpe,))
    place = _place(indication_mm, certificate)
    value_mm = place.between(place.before.correction_mm, place.after.correction_mm)
    terms = [*_stated(place, certificate, gauge.gauge_id), _straying(place, label)]
    if indication_mm > certificate[-1].size_mm:
        terms.append(mpe)
    return Correction(value_mm=value_mm, terms=tuple(terms))


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
