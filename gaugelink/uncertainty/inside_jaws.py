"""What the flats of inside jaws make of a bore: they span a chord, not the diameter.

The edges that touch the wall are T apart sideways, both flats and the gap between the
jaws together. At best, centred in the bore, the jaws then read the chord

    d = sqrt(D^2 - T^2),    so    D = sqrt(d^2 + T^2)

which is short by T^2 / (2 D) for small T: 9 um for T = 0.3 mm in a bore of 5 mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from gaugelink.gauge_record import JawFlats
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term

# Flats and gap of jaws that nobody has measured lie anywhere from knife edges to this:
# common practice for calipers with thin inside jaws. Worn ones reach 0.7 mm; measure them.
WIDEST_ASSUMED_MM = 0.30


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortfall:
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
