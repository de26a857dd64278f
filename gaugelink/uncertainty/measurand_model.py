"""The measurement model: what each measurand is, as one equation of its corrected indication.

With y, the corrected indication of ``measurand``, all in mm::

    bore             D = sqrt((y + m)^2 + T^2) + e_temp   T: flats of the inside jaws
    depth            H = y + e_plane + e_temp          plane of the rim, or of the lid seat
    lid, recess      l = y + e_temp
    arbor            d = y - m + e_hub + e_temp        rise of a hub shaped like a snail
    found_thickness  e = y - h + e_temp                h: film and cross-curvature, one-sided
    found_height     h = y + e_temp

A sweep seeks the largest reading of a bore and the smallest of an arbor, and misses it to
one side only: by m on average, with m anywhere from 0 to what the scatter of the readings
shows of it (``missed_mm``), its mean corrected and its spread an influence.

Inside jaws span a chord, not the diameter: their edges are T apart sideways, both flats and
the gap between the jaws together, so that at best they read sqrt(D^2 - T^2), which is short
by T^2 / (2 D) for small T: 9 um for T = 0.3 mm in a bore of 5 mm. A strip that is hollow
across, or wears a film of oil, reads high, never low. A depth rod's beam rests on a narrow
seat, or the lid does not lie flush with the rim. An arbor's hub rises like a snail. The
ranges of all these are common practice; none is a published value.

Lengths hold at 20 degC (ISO 1). Gauge and part are taken to be as warm as the bench, t. A
steel gauge then reads a part of another material by L (alpha_part - alpha_gauge)(t - 20 degC)
too long, which for the 11 mm of a barrel is half a micrometre at most: it is stated, not
corrected.

The readings of bore and arbor are taken around the part: ``scatter`` tells its form
from the scatter of the gauge. Depth to the rim is used with the thickness of the lid,
depth to the seat without; the sizing does that. A measurand that is not in this list is
its corrected indication.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, TypeAlias

from gaugelink.gauge_record import Anvils, GaugeRecord, JawFlats, Repeatability
from gaugelink.model import DepthReference, GaugeInfo, Seek, Summary
from gaugelink.statistics.moments import mean, std
from gaugelink.uncertainty import estimate
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term, bounded
from gaugelink.uncertainty.gauge_error import ZeroCheck
from gaugelink.uncertainty.measurand import Face, quantity_from_summary
from gaugelink.uncertainty.scatter import (
    form_std_mm,
    hub_rise_mm,
    missed_mm,
    out_of_round_mm,
    own_repeatability,
    repeats_to_mm,
)

# By how much at most a wiped spring reads high: flat anvils bridge its hollow and press
# on a film, balls meet the film alone.
MOST_READ_HIGH_MM: Mapping[Anvils, float] = {Anvils.FLAT: 0.005, Anvils.BALL: 0.002}
_HIGH_BY: Mapping[Anvils, str] = {Anvils.FLAT: "film and cross-curvature", Anvils.BALL: "film"}
DEPTH_PLANE_MM = 0.010
_DEPTH_PLANE: Mapping[DepthReference, str] = {
    DepthReference.RIM: "lid not flush with the rim",
    DepthReference.SEAT: "beam on the narrow lid seat",
}
# A hub that reads alike wherever it was tried may be round, or was tried at one width: its
# middle lies within this of the readings, half of the largest rise that is not looked for.
HUB_UNSEEN_MM = 0.05


def thickness_of_strip(reading: Quantity, anvils: Anvils | None) -> Quantity:
    """Return the thickness in mm of a strip that reads high by an unknown amount.

    e = y - h with h anywhere from 0 to ``MOST_READ_HIGH_MM``: the mean of h is
    subtracted, its spread is an influence.

    Args:
        reading: the corrected indication y.
        anvils: the faces that touched it; None counts as flat.
    """
    shape = anvils or Anvils.FLAT
    half_mm = MOST_READ_HIGH_MM[shape] / 2.0
    label = f"{reading.label} {_HIGH_BY[shape]} (0 to {2000.0 * half_mm:.0f} um high)"
    return _with_bound(replace(reading, value=reading.value - half_mm), label, half_mm, -1.0)


def depth_to_plane(reading: Quantity, reference: DepthReference) -> Quantity:
    """Return the depth in mm from the floor to the plane that the lid lies in.

    The rim represents the outside of a lid that lies flush, the seat for its inside;
    each does so within ``DEPTH_PLANE_MM``.
    """
    return _with_bound(reading, _DEPTH_PLANE[reference], DEPTH_PLANE_MM)


def hub_of_snail(reading: Quantity, used_mm: Sequence[float]) -> Quantity:
    """Return the mean diameter in mm of a hub whose readings seem to show its rise.

    A spiral rise makes all widths between the smallest and the largest equally likely, so
    of widths met at random the mean is the hub. Of widths that were sought out, the mean
    of the smallest and the largest is: common practice, and exact for an even rise. Which
    they are is not known; the mean is taken, and the difference of the two is an influence.

    What looks like a rise may be a hand that shakes, which says nothing of the places in
    between: the bound of a rise that is not seen stays whole, however much the readings scatter.

    Args:
        reading: the corrected indication, from the mean of the readings.
        used_mm: the readings themselves, one or more.
    """
    middle_mm = (min(used_mm) + max(used_mm)) / 2.0
    off_mm = abs(middle_mm - math.fsum(used_mm) / len(used_mm))
    label = f"{reading.label} hub shape (mean or middle of its widths)"
    return hub_alike(_with_bound(reading, label, off_mm) if off_mm > 0.0 else reading)


def hub_alike(reading: Quantity) -> Quantity:
    """Return the hub in mm, of whose rise some may have been missed."""
    return _with_bound(reading, f"{reading.label} hub shape (a rise not seen)", HUB_UNSEEN_MM)


def of_sweep(reading: Quantity, most_mm: float, sought: Seek) -> Quantity:
    """Return the size in mm that sweeps sought and missed to one side, by 0 to ``most_mm``.

    Judgement; how large it is at most, and why, stands in ``scatter.missed_mm``.

    Args:
        reading: the corrected indication y.
        most_mm: the largest mean miss, 0 where none is to be expected.
        sought: the largest reading or the smallest.
    """
    if not most_mm:
        return reading
    sign = 1.0 if sought is Seek.MAXIMUM else -1.0
    half_mm = most_mm / 2.0
    label = f"{reading.label} {sought} missed by the sweep (judgement)"
    return _with_bound(replace(reading, value=reading.value + sign * half_mm), label, half_mm, sign)


def _with_bound(
    quantity: Quantity, label: str, half_width_mm: float, factor: float = 1.0
) -> Quantity:
    bound = Term(influence=bounded(label, half_width_mm), factor=factor)
    return replace(quantity, terms=(*quantity.terms, bound))


# Flats and gap of jaws that nobody has measured lie anywhere from knife edges to this:
# common practice for calipers with thin inside jaws. Worn ones reach 0.7 mm; measure them.
WIDEST_ASSUMED_MM = 0.30


class Shortfall(NamedTuple):
    """By how much unknown flats make a bore read short: mean and standard deviation in mm."""

    mean_mm: float
    std_mm: float


def bore_of_chord(chord: Quantity, gauge_id: str, flats: JawFlats | None) -> Quantity:
    """Return the diameter in mm of a bore whose chord the inside jaws read.

    D = sqrt(d^2 + T^2), the equation above. With T known, both partial derivatives
    d/D and T/D carry its uncertainty on. With T not known it is taken to lie anywhere
    from 0 to ``WIDEST_ASSUMED_MM``: the mean shortfall is corrected, and its spread is
    an influence with the same standard deviation.

    Args:
        chord: the corrected indication, above zero.
        gauge_id: whose jaws they are; all its bores share the influence.
        flats: T with its uncertainty, None when nobody has measured it.

    Raises:
        ValueError: the chord is not above zero.
    """
    if not chord.value > 0.0:
        raise ValueError(f"a bore of {chord.value} mm has no chord")
    if flats is None:
        return _with_unknown_flats(chord, gauge_id)
    bore_mm = math.hypot(chord.value, flats.width_mm)
    slope = chord.value / bore_mm
    terms = [replace(term, factor=term.factor * slope) for term in chord.terms]
    if flats.width_mm * flats.u_mm > 0.0:
        known = Influence(label=f"{gauge_id} inside jaw flats", kind="B", u=flats.u_mm)
        terms.append(Term(influence=known, factor=flats.width_mm / bore_mm))
    return replace(chord, value=bore_mm, terms=tuple(terms))


def assumed_shortfall(chord_mm: float, widest_mm: float = WIDEST_ASSUMED_MM) -> Shortfall:
    """Return mean and standard deviation of D - d in mm when T is equally likely in 0..widest.

    With D = sqrt(d^2 + T^2): E(D) = [sqrt(d^2 + W^2) + (d^2 / W) arsinh(W / d)] / 2 and
    E(D^2) = d^2 + W^2 / 3.

    Args:
        chord_mm: the chord d, above zero.
        widest_mm: the widest T, W above zero.

    >>> round(assumed_shortfall(11.0).mean_mm, 5)  # 0.3^2 / (6 * 11)
    0.00136
    """
    d, w = chord_mm, widest_mm
    mean_mm = (math.hypot(d, w) + d * d / w * math.asinh(w / d)) / 2.0
    variance = d * d + w * w / 3.0 - mean_mm * mean_mm
    return Shortfall(mean_mm=mean_mm - d, std_mm=math.sqrt(max(variance, 0.0)))


def _with_unknown_flats(chord: Quantity, gauge_id: str) -> Quantity:
    short = assumed_shortfall(chord.value)
    unknown = Influence(
        label=f"{gauge_id} inside jaw flats (0 to {WIDEST_ASSUMED_MM:g} mm assumed)",
        kind="B",
        u=short.std_mm,
        shape=Shape.RECTANGULAR,
    )
    terms = (*chord.terms, Term(influence=unknown))
    return replace(chord, value=chord.value + short.mean_mm, terms=terms)


# A bench indoors keeps within this of 20 degC: common practice.
BENCH_WITHIN_K = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PartMaterial:
    """A material and its coefficient of linear expansion, alpha +- half_width, in 1/K."""

    name: str
    alpha_per_k: float
    half_width_per_k: float
    source: str


STEEL = PartMaterial(
    name="steel",
    alpha_per_k=11.5e-6,
    half_width_per_k=1.0e-6,
    source="ISO 3650, gauge block steel (from memory); the value of JCGM 100:2008, H.1",
)
BRASS = PartMaterial(
    name="brass",
    alpha_per_k=19.5e-6,
    half_width_per_k=1.5e-6,
    source="range of plain and leaded brass, design data; C26000 and C36000 in Callister and "
    "Rethwisch, Fundamentals of Materials Science and Engineering, 3rd ed. 2007, table B.6",
)
BENCH = Influence(
    label="bench temperature",
    kind="B",
    u=estimate.rectangular(BENCH_WITHIN_K),  # in K; the factor of each quantity is in mm/K
    shape=Shape.RECTANGULAR,
)


def at_20_degrees(size: Quantity, part: PartMaterial) -> Quantity:
    """Return a size in mm with the influence of the bench's temperature.

    L (alpha_gauge - alpha_part)(t - 20 degC), ISO 1. The difference of the two coefficients is
    itself uncertain; because t - 20 degC has the mean zero, the variance of the product is
    exactly L^2 (difference^2 + u^2(difference)) u^2(t). One bench warms all parts, so all sizes
    share this influence. ``size`` is as read with a steel gauge.
    """
    factor = size.value * expansion_gap_per_k(part)
    return replace(size, terms=(*size.terms, Term(influence=BENCH, factor=factor)))


def expansion_gap_per_k(part: PartMaterial) -> float:
    """Return by how much more a steel gauge expands than a part, in 1/K; negative for brass.

    The size of it is the root mean square over what the coefficients may be.
    """
    gap = STEEL.alpha_per_k - part.alpha_per_k
    u = estimate.rectangular(math.hypot(STEEL.half_width_per_k, part.half_width_per_k))
    return math.copysign(math.hypot(gap, u), gap)


BORE, ARBOR = "bore", "arbor"


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """All that was found out about one measurand.

    Args:
        summary: its readings, reduced.
        used_mm: the readings that were not rejected, in mm.
        gauge: the gauge that took them.
        zero: its zero check, None when none was made.
        record: what is known of the gauge.
        depth_reference: what a depth was measured up to.
        hand: what other series of this gauge scatter in the job, those without a form of a part;
            None where none tells.
    """

    summary: Summary
    used_mm: tuple[float, ...]
    gauge: GaugeInfo
    zero: ZeroCheck | None = None
    record: GaugeRecord | None = None
    depth_reference: DepthReference = DepthReference.RIM
    hand: Repeatability | None = None

    @property
    def form_std_mm(self) -> float:
        """Standard deviation that the form of the part adds to the readings; 0 if not seen."""
        std_mm = self.summary.std_mm
        return 0.0 if std_mm is None else form_std_mm(std_mm, self.summary.dof, self.own)

    @property
    def alone_mm(self) -> float | None:
        """The one reading without which no form is seen; None where it takes more, or none is."""
        if not self.form_std_mm or len(self.used_mm) < FEWEST_TO_TELL:
            return None
        centre_mm = mean(self.used_mm)
        alone_mm = max(self.used_mm, key=lambda value_mm: abs(value_mm - centre_mm))
        rest_mm = list(self.used_mm)
        rest_mm.remove(alone_mm)
        return None if form_std_mm(std(rest_mm), len(rest_mm) - 1, self.own) else alone_mm

    @property
    def own(self) -> Repeatability:
        """What gauge and hand scatter by themselves, in mm."""
        step_mm = self.summary.resolution_mm
        return own_repeatability(self.gauge.kind, step_mm, self.record, self.hand)

    @property
    def missed_mm(self) -> float:
        """By how much at most the mean of sweeps is short of what they sought, in mm."""
        step_mm = self.summary.resolution_mm
        std_mm = self.summary.std_mm
        if std_mm is None:
            std_mm = repeats_to_mm(self.gauge.kind, step_mm, self.record)
        return missed_mm(self.gauge.kind, std_mm, step_mm, self.record)


FEWEST_TO_TELL = 3  # readings, of which two may agree against one

Equation: TypeAlias = Callable[[Quantity, Found], Quantity]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Measurand:
    """The faces that touch it, what it is made of, and its equation.

    Barrels are taken as brass, which differs most from a steel gauge.
    """

    face: Face = Face.OUTSIDE
    material: PartMaterial = BRASS
    equation: Equation | None = None


def face_of(measurand: str) -> Face:
    """Return the faces of a gauge that touch a measurand."""
    return _MEASURANDS.get(measurand, _Measurand()).face


def measured_quantity(found: Found) -> Quantity:
    """Return a measurand in mm by its equation, with all its influences.

    The equations stand at the top of this module.

    Raises:
        ValueError: the summary was not taken with this gauge, or a bore is not above zero.
    """
    measurand = _MEASURANDS.get(found.summary.measurand, _Measurand())
    size = quantity_from_summary(
        found.summary, found.gauge, found.zero, measurand.face, found.record, found.hand
    )
    if measurand.equation is not None:
        size = measurand.equation(size, found)
    return at_20_degrees(size, measurand.material)


def form_found_mm(found: Found) -> float:
    """Return by how much a part is out of round, or a hub rises, in mm; 0 if none is seen.

    Largest less smallest diameter: see ``scatter``.
    """
    spans: Mapping[str, Callable[[float], float]] = {BORE: out_of_round_mm, ARBOR: hub_rise_mm}
    span = spans.get(found.summary.measurand)
    return span(found.form_std_mm) if span else 0.0


def _bore(chord: Quantity, found: Found) -> Quantity:
    flats = found.record.jaw_flats if found.record else None
    swept = of_sweep(chord, found.missed_mm, Seek.MAXIMUM)
    return bore_of_chord(swept, found.gauge.gauge_id, flats)


def _depth(reading: Quantity, found: Found) -> Quantity:
    return depth_to_plane(reading, found.depth_reference)


def _arbor(reading: Quantity, found: Found) -> Quantity:
    swept = of_sweep(reading, found.missed_mm, Seek.MINIMUM)
    return hub_of_snail(swept, found.used_mm) if found.form_std_mm else hub_alike(swept)


def _strip(reading: Quantity, found: Found) -> Quantity:
    return thickness_of_strip(reading, found.record.anvils if found.record else None)


_MEASURANDS: Mapping[str, _Measurand] = {
    BORE: _Measurand(face=Face.INSIDE, equation=_bore),
    "depth": _Measurand(face=Face.DEPTH, equation=_depth),
    "lid": _Measurand(),
    "recess": _Measurand(face=Face.DEPTH),
    ARBOR: _Measurand(material=STEEL, equation=_arbor),
    "found_thickness": _Measurand(material=STEEL, equation=_strip),
    "found_height": _Measurand(material=STEEL),
}


def used_readings_mm(values_mm: Sequence[float], summary: Summary) -> tuple[float, ...]:
    """Return the readings of a series that its summary did not reject, in mm."""
    rejected = {mark.index for mark in summary.marks if mark.rejected}
    return tuple(value for i, value in enumerate(values_mm) if i not in rejected)
