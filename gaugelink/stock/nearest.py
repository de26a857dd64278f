"""Which springs on hand come nearest to one in size. Pure."""

from __future__ import annotations

import heapq
from collections.abc import Iterable

from gaugelink.stock.spring import StockSpring

# What counts as one step away: the steps of the sizes that are sold, common practice.
# Length is the least critical of the three, so that its step is a part of it.
_HEIGHT_STEP_MM = 0.05
_THICKNESS_STEP_MM = 0.005
_LENGTH_STEP = 0.05
_FARTHEST = 6.0  # steps in all; beyond, it is another kind of spring


def nearest(
    spring: StockSpring, springs: Iterable[StockSpring], *, most: int = 3
) -> tuple[StockSpring, ...]:
    """Return the springs on hand whose size is nearest, the nearest first.

    This looks at sizes alone, as somebody does who looks for the next drawer; which spring
    goes into a barrel is for ``choosing`` to say. Of equally near ones the thinner is first.

    Args:
        spring: the one that has run out.
        springs: the stock; what is not on hand is left out, and so is the spring itself.
        most: how many to return at most.
    """
    others = (s for s in springs if s.on_hand > 0 and s.item != spring.item)
    near = (s for s in others if steps_between(spring, s) <= _FARTHEST)
    ranked = heapq.nsmallest(
        most, near, key=lambda s: (steps_between(spring, s), s.thickness_mm, s.item)
    )
    return tuple(ranked)


def steps_between(one: StockSpring, other: StockSpring) -> float:
    """Add up by how many steps of the trade two springs differ in height, thickness, length."""
    height = abs(other.height_mm - one.height_mm) / _HEIGHT_STEP_MM
    thickness = abs(other.thickness_mm - one.thickness_mm) / _THICKNESS_STEP_MM
    length = abs(other.length_mm - one.length_mm) / (_LENGTH_STEP * one.length_mm)
    # Rounded, so that equal differences of binary fractions are equally near.
    return round(height + thickness + length, 6)
