"""Lengths hold at 20 degC (ISO 1); what the bench's own temperature does to a reading.

Gauge and part are taken to be as warm as the bench, t. A steel gauge then reads a part
of another material by L (alpha_part - alpha_gauge)(t - 20 degC) too long, which for the
11 mm of a barrel is half a micrometre at most: it is stated, not corrected.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from gaugelink.uncertainty import type_b
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term

# A bench indoors keeps within this of 20 degC: common practice.
BENCH_WITHIN_K = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A material and its coefficient of linear expansion, alpha +- half_width, in 1/K."""

    name: str
    alpha_per_k: float
    half_width_per_k: float
    source: str


STEEL = Material(
    name="steel",
    alpha_per_k=11.5e-6,
    half_width_per_k=1.0e-6,
    source="ISO 3650, gauge block steel (from memory); the value of JCGM 100:2008, H.1",
)
BRASS = Material(
    name="brass",
    alpha_per_k=19.5e-6,
    half_width_per_k=1.5e-6,
    source="range of plain and leaded brass, design data; C26000 and C36000 in Callister and "
    "Rethwisch, Fundamentals of Materials Science and Engineering, 3rd ed. 2007, table B.6",
)
NICKEL_SILVER = Material(
    name="nickel silver",
    alpha_per_k=16.5e-6,
    half_width_per_k=0.5e-6,
    source="range of cupro-nickel and nickel silver, design data",
)
MATERIALS = (STEEL, BRASS, NICKEL_SILVER)

BENCH = Influence(
    label="bench temperature",
    kind="B",
    u=type_b.rectangular(BENCH_WITHIN_K),  # in K; the factor of each quantity is in mm/K
    shape=Shape.RECTANGULAR,
)


def at_20_degrees(size: Quantity, part: Material) -> Quantity:
    """Return a size in mm with the influence of the bench's temperature.

    L (alpha_gauge - alpha_part)(t - 20 degC), ISO 1. The difference of the two
    coefficients is itself uncertain; because t - 20 degC has the mean zero, the variance
    of the product is exactly L^2 (difference^2 + u^2(difference)) u^2(t). One bench warms
    all parts, so all sizes share this influence.

    Args:
        size: as read with a steel gauge.
        part: material of the part.
    """
    factor = size.value * expansion_gap_per_k(part)
    return replace(size, terms=(*size.terms, Term(influence=BENCH, factor=factor)))


def expansion_gap_per_k(part: Material) -> float:
    """Return by how much more a steel gauge expands than a part, in 1/K; negative for brass.

    The size of it is the root mean square over what the coefficients may be.
    """
    gap = STEEL.alpha_per_k - part.alpha_per_k
    u = type_b.rectangular(math.hypot(STEEL.half_width_per_k, part.half_width_per_k))
    return math.copysign(math.hypot(gap, u), gap)
