"""One standard deviation from many short series of the same kind of measurement.

Three readings say little of their own scatter. Where the same hand measured the same
kind of part with the same gauge before, all those series together say it far better:
with 20 degrees of freedom and more, s_p / sqrt(n) needs next to no Student factor
(EA-4/02, example S4, does this for five readings).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from gaugelink.statistics.moments import std


@dataclass(frozen=True, slots=True, kw_only=True)
class PooledStd:
    """A pooled standard deviation, in the unit of the values, with its degrees of freedom."""

    std: float
    dof: int


def pooled_std(groups: Iterable[Sequence[float]]) -> PooledStd:
    """Pool the standard deviation within groups of values, in the unit of the values.

    s_p^2 = sum (n_j - 1) s_j^2 / sum (n_j - 1): JCGM 100:2008, H.3.6 and H.5.2, ISO
    5725-2. Differences between the groups do not enter. Groups of fewer than two
    values say nothing and are passed over.

    Args:
        groups: values of one group together, all in one unit.

    Raises:
        ValueError: no group has two values.

    >>> pooled_std([[1.0, 3.0], [10.0, 12.0], [5.0]]).dof
    2
    """
    told = [group for group in groups if len(group) > 1]
    if not told:
        raise ValueError("a pooled standard deviation needs a group of two values")
    dof = sum(len(group) - 1 for group in told)
    squares = math.fsum((len(group) - 1) * std(group) ** 2 for group in told)
    return PooledStd(std=math.sqrt(squares / dof), dof=dof)
