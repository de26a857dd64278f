"""When a Monte Carlo run has taken enough draws: JCGM 101:2008, 7.9.

Draws come in blocks. Each block gives a mean, a standard deviation and an interval of
its own; how far the blocks scatter tells how well their averages are known. The run is
stable when twice the standard deviation of each average is below the numerical
tolerance of u.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from gaugelink.errors import InputError
from gaugelink.statistics.moments import mean, std
from gaugelink.uncertainty.tolerance import tolerance_of

LEAST_BLOCK = 10_000
LEAST_BEYOND = 100  # draws of a block that lie outside its interval
_ROUNDING = 1e-12  # part of a value below which a difference is float arithmetic


@dataclass(frozen=True, slots=True, kw_only=True)
class Adaptive:
    """Ask for as many draws as ``digits`` significant digits of u need, ``most`` at most.

    With two digits a run takes some 20 000 draws where u begins with 9 and a million
    where all its digits are 9; the slowest output decides.
    """

    digits: int = 2
    most: int = 1_000_000

    def __post_init__(self) -> None:
        """Refuse what cannot work."""
        if self.digits < 1 or self.most < LEAST_BLOCK:
            raise InputError(
                f"{self.most} draws for {self.digits} significant digits are not possible.",
                hint=f"Ask for one digit or two, and {LEAST_BLOCK} draws or more.",
            )


class BlockFigures(Protocol):
    """What one block of draws says of one output."""

    @property
    def mean(self) -> float:
        """Mean of the draws."""

    @property
    def std(self) -> float:
        """Standard deviation of the draws."""

    @property
    def low(self) -> float:
        """Lower end of the coverage interval."""

    @property
    def high(self) -> float:
        """Upper end of the coverage interval."""


def block_size(coverage: float) -> int:
    """Return the number of draws in a block: 7.9.4 b).

    M = max(J, 10 000), J the least whole number that is 100 / (1 - p) or more.
    """
    return max(LEAST_BLOCK, math.ceil(LEAST_BEYOND / (1.0 - coverage) - 1e-9))


def is_stable(blocks: Sequence[BlockFigures], digits: int, *, has_u: bool = True) -> bool:
    """Tell whether an output is known to the tolerance of its u: 7.9.4 f) to k).

    Args:
        blocks: figures of the blocks so far.
        digits: significant digits of u that count.
        has_u: whether mean and standard deviation exist. With an influence of one or
            two degrees of freedom they do not; then only the interval is looked at,
            and a quarter of it stands for u.
    """
    if len(blocks) < 2:
        return False
    followed = [[b.low for b in blocks], [b.high for b in blocks]]
    if has_u:
        followed += [[b.mean for b in blocks], [b.std for b in blocks]]
        u = math.sqrt(mean([b.std**2 for b in blocks]))
    else:
        u = mean([b.high - b.low for b in blocks]) / 4.0
    rounding = _ROUNDING * max(abs(blocks[0].low), abs(blocks[0].high))
    limit = max(tolerance_of(u, digits), rounding) * math.sqrt(len(blocks)) / 2.0
    return all(std(figures) <= limit for figures in followed)
