"""Invented barrels and stocks to choose from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gaugelink.choosing.springs import Grade
from gaugelink.choosing.state import ChoosingInputs
from gaugelink.mechanics.materials import material_named
from gaugelink.mechanics.signs import FoundSeen
from gaugelink.sizing.inputs import GivenSpring, SizingInputs, typed_input
from gaugelink.stock.stock_spring import StockSpring

# An 11 mm barrel: available height 1.92 - 0.31 - 0.10 = 1.51 mm.
SIZES = {"bore": 11.0, "arbor": 3.67, "depth": 1.92, "lid": 0.31}
U = {"bore": 0.02, "arbor": 0.04, "depth": 0.02, "lid": 0.01}


def barrel(
    *, sizes: dict[str, float] | None = None, u: dict[str, float] | None = None, **more: Any
) -> SizingInputs:
    """Return an invented barrel; ``sizes`` and ``u`` take the place of the usual ones."""
    known = {**SIZES, **(sizes or {})}
    off = {**U, **(u or {})}
    typed = {name: typed_input(name, value, off[name]) for name, value in known.items()}
    return SizingInputs(**{"hours_per_turn": 8.0, **typed, **more})


EXACT = dict.fromkeys(U, 0.0)


def job(*, strip: Grade = Grade.WATCH, **of_barrel: Any) -> Any:
    return ChoosingInputs(barrel=barrel(**of_barrel), strip=strip)


def given(
    thickness: float,
    height: float | None = None,
    length: float | None = None,
    *,
    name: str = "documented",
    u: Sequence[float] = (0.0, 0.0, 0.0),
) -> GivenSpring:
    sizes = zip(("thickness", "height", "length"), (thickness, height, length), u, strict=True)
    return GivenSpring(
        **{  # type: ignore[arg-type]
            size: typed_input(f"{name}.{size}", value, off)
            for size, value, off in sizes
            if value is not None
        }
    )


DOCUMENTED = given(0.12, 1.5, 350.0)
STEEL = material_named("carbon-steel")


def healthy_steel() -> dict[str, Any]:
    """Return a found spring whose free coils say that it is as strong as steel is.

    (sqrt(r^2 + L e/pi) - r)/e - sigma L/(pi E e), r the arbor and half a thickness: 8.3 at
    2200 MPa, 204 GPa, 0.115 x 350 mm.
    """
    coils = typed_input("found.free_coils", 8.3, 0.1, "1")
    found = given(0.115, 1.45, 350.0, name="found")
    return {"found": found, "seen": FoundSeen(free_coils=coils), "material": STEEL}


def spring(
    thickness: float, height: float = 1.5, length: float = 350.0, item: str = "", **more: Any
) -> StockSpring:
    return StockSpring(
        item=item or f"{height:g} x {thickness:g} x {length:g}",
        height_mm=height,
        thickness_mm=thickness,
        length_mm=length,
        **more,
    )


def trade_range(height: float = 1.45) -> list[StockSpring]:
    """Return the usual sizes for an 11 mm barrel, some 150: common practice."""
    return [
        spring(step / 1000, height, length)
        for step in range(95, 161, 5)
        for length in range(300, 401, 10)
    ]
