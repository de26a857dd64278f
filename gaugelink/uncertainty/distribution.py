"""What the Monte Carlo draws of one output say, and how a row of draws is reduced to it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gaugelink.errors import SizingError
from gaugelink.uncertainty.intervals import Interval

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputDistribution:
    """What the draws of one output say.

    ``low`` and ``high`` are the coverage interval of the kind that was asked for.
    Draws for which the output has no finite value are left out of every figure;
    ``excluded_share`` is their part of all draws, 0 to 1. With an influence of one
    or two degrees of freedom the variance does not exist, and ``std`` means nothing.
    """

    label: str
    mean: float
    std: float
    low: float
    high: float
    excluded_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulation:
    """The outputs of a run, how many draws it took, and whether they were enough.

    ``stable`` says whether an adaptive run came to its tolerance; it is None where the
    number of draws was given.
    """

    outputs: tuple[OutputDistribution, ...]
    draws: int
    stable: bool | None


def reduced(label: str, row: Array, coverage: float, interval: Interval) -> OutputDistribution:
    """Reduce the draws of one output, which are reordered and overwritten on the way.

    Args:
        label: of the output.
        row: its draws; not all need be finite, so numpy must not warn of that.
        coverage: coverage probability, between 0 and 1.
        interval: which coverage interval.

    Raises:
        SizingError: no draw is finite.
    """
    used = _finite(row)
    if used.size == 0:
        raise SizingError(
            f"{label} has no value in any of {row.size} draws.",
            hint="Check the inputs against one another and their uncertainties.",
        )
    low, high = interval.of(used, coverage)
    mean = float(used.mean())
    used -= mean
    used *= used
    return OutputDistribution(
        label=label,
        mean=mean,
        std=math.sqrt(float(used.sum()) / max(used.size - 1, 1)),
        low=low,
        high=high,
        excluded_share=1.0 - used.size / row.size,
    )


def _finite(row: Array) -> Array:
    # A finite sum proves every draw finite at a fraction of the cost of asking each.
    return row if math.isfinite(float(row.sum())) else row[abs(row) < math.inf]
