"""The measurement model: what each measurand is, as one equation of its corrected indication.

With y, the corrected indication of ``measurand``, all in mm::

    bore             D = sqrt(y^2 + T^2) + e_temp      T: flats of the inside jaws
    depth            H = y + e_plane + e_temp          plane of the rim, or of the lid seat
    lid, recess      l = y + e_temp
    arbor            d = y + e_hub + e_temp            rise of a hub shaped like a snail
    found_thickness  e = y - h + e_temp                h: film and cross-curvature, one-sided
    found_height     h = y + e_temp

The readings of bore and arbor are taken around the part: ``form_error`` tells its form
from the scatter of the gauge. Depth to the rim is used with the thickness of the lid,
depth to the seat without; the sizing does that. A measurand that is not in this list is
its corrected indication.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from gaugelink.gauge_record import GaugeRecord
from gaugelink.model import DepthReference, GaugeInfo, Summary
from gaugelink.uncertainty.contact import (
    depth_to_plane,
    hub_alike,
    hub_of_snail,
    thickness_of_strip,
)
from gaugelink.uncertainty.estimate import Quantity
from gaugelink.uncertainty.form_error import (
    form_std_mm,
    hub_rise_mm,
    out_of_round_mm,
    own_repeatability,
)
from gaugelink.uncertainty.inside_jaws import bore_of_chord
from gaugelink.uncertainty.measurand import Face, quantity_from_summary
from gaugelink.uncertainty.temperature import BRASS, STEEL, Material, at_20_degrees
from gaugelink.uncertainty.zero import ZeroCheck

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
    """

    summary: Summary
    used_mm: tuple[float, ...]
    gauge: GaugeInfo
    zero: ZeroCheck | None = None
    record: GaugeRecord | None = None
    depth_reference: DepthReference = DepthReference.RIM

    @property
    def form_std_mm(self) -> float:
        """Standard deviation that the form of the part adds to the readings; 0 if not seen."""
        own = own_repeatability(self.gauge.kind, self.summary.resolution_mm, self.record)
        return form_std_mm(self.summary, own)


Equation: TypeAlias = Callable[[Quantity, Found], Quantity]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Measurand:
    """The faces that touch it, what it is made of, and its equation.

    Barrels are taken as brass, which differs most from a steel gauge.
    """

    face: Face = Face.OUTSIDE
    material: Material = BRASS
    equation: Equation | None = None


def measured_quantity(found: Found) -> Quantity:
    """Return a measurand in mm by its equation, with all its influences.

    The equations stand at the top of this module.

    Raises:
        ValueError: the summary was not taken with this gauge, or a bore is not above zero.
    """
    measurand = _MEASURANDS.get(found.summary.measurand, _Measurand())
    size = quantity_from_summary(
        found.summary, found.gauge, found.zero, measurand.face, found.record
    )
    if measurand.equation is not None:
        size = measurand.equation(size, found)
    return at_20_degrees(size, measurand.material)


def form_found_mm(found: Found) -> float:
    """Return by how much a part is out of round, or a hub rises, in mm; 0 if none is seen.

    Largest less smallest diameter: see ``form_error``.
    """
    spans: Mapping[str, Callable[[float], float]] = {BORE: out_of_round_mm, ARBOR: hub_rise_mm}
    span = spans.get(found.summary.measurand)
    return span(found.form_std_mm) if span else 0.0


def _bore(chord: Quantity, found: Found) -> Quantity:
    flats = found.record.jaw_flats if found.record else None
    if found.form_std_mm:
        chord = _renamed(chord, "bore out of round, and repeatability")
    return bore_of_chord(chord, found.gauge.gauge_id, flats)


def _depth(reading: Quantity, found: Found) -> Quantity:
    return depth_to_plane(reading, found.depth_reference)


def _arbor(reading: Quantity, found: Found) -> Quantity:
    if not found.form_std_mm:
        return hub_alike(reading)
    seen = _renamed(reading, "arbor hub shape, and repeatability")
    return hub_of_snail(seen, found.used_mm, hub_rise_mm(found.form_std_mm))


def _strip(reading: Quantity, found: Found) -> Quantity:
    return thickness_of_strip(reading, found.record.anvils if found.record else None)


def _renamed(quantity: Quantity, label: str) -> Quantity:
    """Say in the budget that the scatter of the readings is more than the gauge's own."""
    terms = (
        replace(term, influence=replace(term.influence, label=label))
        if term.influence.kind == "A" and term.influence.label.startswith(quantity.label)
        else term
        for term in quantity.terms
    )
    return replace(quantity, terms=tuple(terms))


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
