"""Two limits that judgement or a table gives, and how they enter the uncertainty stage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from gaugelink.uncertainty.estimate import Quantity, Term, bounded

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from gaugelink.uncertainty.estimate import Array

# One spring, or as many as an array holds.
Number: TypeAlias = "float | Array"
Truth: TypeAlias = "bool | np.bool_ | npt.NDArray[np.bool_]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Two limits, not a coverage interval; ``low`` <= ``high``, element by element."""

    low: Number
    high: Number

    @property
    def middle(self) -> Number:
        """The value half way between the limits."""
        return (self.low + self.high) / 2

    def at(self, part: Number) -> Number:
        """Return the value at a part of the way from ``low`` (0) to ``high`` (1)."""
        return self.low + part * (self.high - self.low)


@dataclass(frozen=True, slots=True, kw_only=True)
class SourcedBand:
    """A band of plain numbers with the source it was taken from.

    ``from_memory`` says that no readable source was found for it.
    """

    low: float
    high: float
    source: str
    from_memory: bool = False

    @property
    def middle(self) -> float:
        """The value half way between the limits."""
        return (self.low + self.high) / 2

    @property
    def band(self) -> Band:
        """The limits alone."""
        return Band(low=self.low, high=self.high)


def assumed(label: str, band: SourcedBand, unit: str) -> Quantity:
    """Make an input quantity of a band: its middle, all values within it equally probable.

    GUM 4.3.7. Two quantities made under one label share the influence, as they should
    when both springs are of the one alloy.

    Args:
        label: label of the quantity.
        band: the limits, finite.
        unit: unit of the limits.
    """
    guess = bounded(f"{label} assumed", (band.high - band.low) / 2)
    return Quantity(label=label, value=band.middle, unit=unit, terms=(Term(influence=guess),))


def hull(bands: Sequence[SourcedBand], source: str) -> SourcedBand:
    """Return the narrowest band that holds all of ``bands``, of which there is at least one."""
    return SourcedBand(
        low=min(band.low for band in bands),
        high=max(band.high for band in bands),
        source=source,
        from_memory=any(band.from_memory for band in bands),
    )
