"""One spring of the stock, as a list of springs gives it."""

from __future__ import annotations

from dataclasses import dataclass


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
        end: name of the outer end, see ``mechanics.ends``; None where the list is silent.
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
