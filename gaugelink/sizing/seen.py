"""What was seen of the spring that was found, beside its three dimensions."""

from __future__ import annotations

from dataclasses import dataclass

from gaugelink.uncertainty.estimate import Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundSeen:
    """The condition of the found spring; None where nobody looked.

    Args:
        free_diameter: diameter of the spring laid flat and free, mm.
        loose_coils: inner coils that do not lie on the wall in the opened barrel.
        thickness_spread_mm: largest less smallest thickness along the strip, mm.
    """

    free_diameter: Quantity | None = None
    loose_coils: float | None = None
    thickness_spread_mm: float | None = None
