"""The scale of a drawing: the largest round ratio that fits the sheet, as 10:1."""

from __future__ import annotations

from dataclasses import dataclass

PX_PER_MM = 96 / 25.4  # a px is 1/96 in: CSS Values and Units 4, 6.2
# ISO 5455 has 2, 5 and 10; the steps between fill a small sheet better.
_STEPS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A ratio of drawing to object, true where the sheet is shown in its own size."""

    ratio: float

    @property
    def px_per_mm(self) -> float:
        """Sheet px for a mm of the object."""
        return self.ratio * PX_PER_MM

    @property
    def text(self) -> str:
        """The ratio as a drawing states it."""
        return f"{self.ratio:g}:1"


def scale_to_fit(size_mm: float, room_px: float) -> Scale:
    """Return the largest round scale at which a size fits.

    Args:
        size_mm: the size in mm, above 0.
        room_px: px there are for it, above 0.
    """
    most = room_px / (size_mm * PX_PER_MM)
    decade = 1.0
    while decade > most:
        decade /= 10
    while decade * 10 <= most:
        decade *= 10
    return Scale(ratio=max(step * decade for step in _STEPS if step * decade <= most))
