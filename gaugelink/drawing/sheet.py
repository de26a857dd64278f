"""How wide a drawing is: for a desk and for paper, or for the screen of a telephone.

Lettering has the same size on both sheets. Shown as wide as a telephone, the narrow one is
shrunk less: of 336 px that a screen of 360 px leaves, its smallest letters get 14.5.
"""

from __future__ import annotations

from enum import Enum


class Sheet(Enum):
    """A sheet to draw on, by its width in px of 1/96 in."""

    WIDE = 640.0
    NARROW = 440.0

    @property
    def width(self) -> float:
        """Its width in px."""
        return self.value

    @property
    def name_lines(self) -> int:
        """Lines that a name may take with its figure; beyond them it is shortened."""
        return 1 if self is Sheet.WIDE else 2

    @property
    def sentence_lines(self) -> int:
        """Lines that a sentence may take; beyond them it is shortened."""
        return 4 if self is Sheet.WIDE else 6

    @property
    def most_ticks(self) -> int:
        """Parts that an axis across is divided into at most."""
        return 5 if self is Sheet.WIDE else 4
