"""One spring of the stock, and which of them are looked for or come nearest in size. Pure."""

from __future__ import annotations

import heapq
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from gaugelink.errors import InputError
from gaugelink.quantities import UNIT_MARK, parse_length


@dataclass(frozen=True, slots=True, kw_only=True)
class StockSpring:
    """A spring on hand, with its nominal size; lengths in mm.

    Args:
        item: what the person calls it; unique in the stock.
        height_mm: height of the strip.
        thickness_mm: thickness of the strip.
        length_mm: length.
        height_tolerance_mm: how far the height may be off either way; None takes the
            default of narrow cold-rolled strip, see ``choosing``.
        thickness_tolerance_mm: the same of the thickness.
        length_tolerance_mm: the same of the length.
        end: name of the outer end, see ``mechanics.materials``; None where the list is silent.
        material: name of the material, see ``mechanics.materials``; None likewise.
        on_hand: how many there are.
        reorder_at: running out when no more than so many are left.
        note: anything else that the list says.
    """

    item: str
    height_mm: float
    thickness_mm: float
    length_mm: float
    height_tolerance_mm: float | None = None
    thickness_tolerance_mm: float | None = None
    length_tolerance_mm: float | None = None
    end: str | None = None
    material: str | None = None
    on_hand: int = 1
    reorder_at: int = 0
    note: str = ""

    @property
    def running_out(self) -> bool:
        """Whether no more are left than the number at which to order again."""
        return self.on_hand <= self.reorder_at

    @property
    def size(self) -> str:
        """Height x thickness x length in mm, as the trade writes it."""
        return f"{self.height_mm:.4g} x {self.thickness_mm:.4g} x {self.length_mm:.5g}"


def item_key(item: str) -> str:
    """Return what two spellings of one item have in common: no capitals, single spaces."""
    return " ".join(item.split()).casefold()


# How far a size may be off that is near one which was typed: a step or two of the sizes
# that are sold, common practice. The length may be off by a part of itself.
_NEAR_MM: Mapping[str, float] = {"height": 0.1, "thickness": 0.01}
_NEAR_LENGTH = 0.05
_EXACT_MM = 1e-9  # 0.12 and what 0.13 - 0.01 comes to are one size
_ENDS_WITH_UNIT = re.compile(rf"(?:[^\W\d_]+|{UNIT_MARK})\s*$")


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeRange:
    """A range of sizes in mm, its ends included."""

    low_mm: float = 0.0
    high_mm: float = math.inf

    def holds(self, value_mm: float) -> bool:
        """Tell whether a size lies within."""
        return self.low_mm - _EXACT_MM <= value_mm <= self.high_mm + _EXACT_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class StockSearch:
    """What is looked for; every condition must hold.

    Args:
        height: where the height may lie; likewise the others.
        low: only what is running out.
        text: a part of the item, end, material or note; capitals do not matter.
    """

    height: SizeRange = field(default_factory=SizeRange)
    thickness: SizeRange = field(default_factory=SizeRange)
    length: SizeRange = field(default_factory=SizeRange)
    low: bool = False
    text: str = ""

    def finds(self, spring: StockSpring) -> bool:
        """Tell whether a spring is one that is looked for."""
        return (
            self.height.holds(spring.height_mm)
            and self.thickness.holds(spring.thickness_mm)
            and self.length.holds(spring.length_mm)
            and (spring.running_out or not self.low)
            and self.text.casefold() in _words(spring)
        )


def found(springs: Iterable[StockSpring], search: StockSearch) -> tuple[StockSpring, ...]:
    """Return the springs that are looked for, in their order."""
    return tuple(spring for spring in springs if search.finds(spring))


def span_from_text(text: str, size: str) -> SizeRange:
    """Read a range: ``0.12..0.13``, ``..0.13``, ``0.12..``, or one size and what is near it.

    Args:
        text: what was typed; a unit at the end holds for both ends.
        size: height, thickness or length.

    Raises:
        InputError: not a length, or the ends are the wrong way round.
    """
    low, dots, high = text.partition("..")
    if not dots:
        return _near(_length_mm(text, size), size)
    if not (low.strip() or high.strip()):
        raise InputError(f"{size}: {text!r} has no ends.", hint="Type it like 0.12..0.13.")
    unit = _ENDS_WITH_UNIT.search(high)
    if unit and low.strip() and not _ENDS_WITH_UNIT.search(low):
        low = f"{low} {unit[0]}"
    span = SizeRange(
        low_mm=_length_mm(low, size) if low.strip() else 0.0,
        high_mm=_length_mm(high, size) if high.strip() else math.inf,
    )
    if span.low_mm > span.high_mm:
        raise InputError(f"{size}: {text!r} is empty.", hint="Type the smaller end first.")
    return span


def _near(value_mm: float, size: str) -> SizeRange:
    reach_mm = _NEAR_MM.get(size, _NEAR_LENGTH * value_mm)
    return SizeRange(low_mm=value_mm - reach_mm, high_mm=value_mm + reach_mm)


def _length_mm(text: str, size: str) -> float:
    length = parse_length(text, size)
    if length.u_mm is not None:
        raise InputError(f"{size}: {text!r} has an uncertainty.", hint="Type a range: 0.12..0.13.")
    return length.value_mm


def _words(spring: StockSpring) -> str:
    parts = (spring.item, spring.end or "", spring.material or "", spring.note)
    return "\n".join(parts).casefold()


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

    This looks at sizes alone, as somebody does who looks for the next drawer; which spring goes
    into a barrel is for ``choosing`` to say. Of equally near ones the thinner is first. What is
    not on hand is left out, and so is the spring itself.
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
