"""The turns that geometry gives: two counts of one barrel, which are never mixed up.

The turns that a watch can use are a third, and need the torque curve: see ``torque``.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.wall_contact import bands_of

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number


def ring_turns(spring: SpringInBarrel) -> Number:
    """Compute the turns from wound to run down, coils taken as closed rings.

    N = [sqrt(r^2 + x) + sqrt(R^2 - x) - r - R] / e. Roze's theorem, in G. H. A. Hazlitt
    (ed.), The American Watchmaker and Jeweler, Chicago 1892, p. 237.
    """
    return bands_of(spring).turns


def spiral_turns(spring: SpringInBarrel) -> Number:
    """Compute the turns from wound to run down, coils taken as true spirals.

    ``ring_turns`` with r + e/2 for r and R - e/2 for R, about half a turn less. Derived
    here from the arc length of the Archimedean spiral; no source.
    """
    e = spring.thickness_mm
    narrower = replace(spring, arbor_mm=spring.arbor_mm + e, bore_mm=spring.bore_mm - e)
    return bands_of(narrower).turns
