"""Which earlier barrel was most like this one, within what the measurements can tell. Pure.

The difference of each size is divided by its standard uncertainty, sqrt(u1^2 + u2^2), as
if the two measurements had nothing in common. Two made with one gauge share its error,
so the true uncertainty of their difference is smaller: "the same" is said a little too
readily, never too seldom.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

# |x1 - x2| <= 2 sqrt(u1^2 + u2^2) for every size: two results agree when their E_n number
# is 1 at most, with U = 2 u (ISO/IEC 17043, from memory).
AGREE_WITHIN_U = 2.0
# No hand gauge tells two barrels apart better than by about this; from memory.
LEAST_U_MM = 0.005
BARREL = ("bore", "depth_rim", "depth_seat", "lid", "recess", "arbor")


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """A size of a job by which it is found again, in mm, with its standard uncertainty."""

    name: str
    value_mm: float
    u_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """How far an earlier job's size lies from the one looked for, in mm and in u."""

    name: str
    difference_mm: float
    in_u: float

    @property
    def agrees(self) -> bool:
        """Whether the two sizes may be one."""
        return abs(self.in_u) <= AGREE_WITHIN_U


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """How like an earlier job is: root mean square of its differences, in u."""

    job_id: int
    distance_in_u: float
    differences: tuple[Difference, ...]

    @property
    def is_same_size(self) -> bool:
        """Whether every size agrees, and there are two at least: many barrels share a bore."""
        return len(self.differences) > 1 and all(each.agrees for each in self.differences)


def likeness(
    job_id: int, wanted: Iterable[Dimension], found: Mapping[str, Dimension]
) -> Likeness | None:
    """Compare the sizes looked for with those of an earlier job; None without a bore in common."""
    pairs = [(each, found[each.name]) for each in wanted if each.name in found]
    differences = tuple(_difference(one, other) for one, other in pairs)
    if not any(each.name == "bore" for each in differences):
        return None
    squares = [each.in_u**2 for each in differences]
    return Likeness(
        job_id=job_id,
        distance_in_u=math.sqrt(math.fsum(squares) / len(squares)),
        differences=differences,
    )


def nearest(likes: Iterable[Likeness], n: int) -> tuple[Likeness, ...]:
    """Return the ``n`` most alike: those of the same size first, then by distance."""
    order = sorted(likes, key=lambda a: (not a.is_same_size, a.distance_in_u, -a.job_id))
    return tuple(order[:n])


def _difference(wanted: Dimension, found: Dimension) -> Difference:
    u_mm = math.hypot(wanted.u_mm, found.u_mm, LEAST_U_MM)
    difference_mm = found.value_mm - wanted.value_mm
    return Difference(name=wanted.name, difference_mm=difference_mm, in_u=difference_mm / u_mm)
