"""A stock as columns of numbers, one element a spring, with the tolerances of strip."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from typing import TYPE_CHECKING, Any, TypeAlias

from gaugelink.errors import InputError
from gaugelink.mechanics.materials import (
    OPEN,
    EndType,
    Material,
    classes_of,
    end_named,
    material_named,
    shipped_rows,
)
from gaugelink.stock.stock_spring import StockSpring

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from gaugelink.uncertainty.estimate import Array
Mask: TypeAlias = "npt.NDArray[np.bool_]"
Positions: TypeAlias = "npt.NDArray[np.intp]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Springs:
    """Springs of a stock, lengths in mm, tolerances half-widths.

    ``end`` and ``material`` are positions in the tuples behind them; an end of None was not
    stated.
    """

    height_mm: Array
    thickness_mm: Array
    length_mm: Array
    height_tolerance_mm: Array
    thickness_tolerance_mm: Array
    length_tolerance_mm: Array
    on_hand: Mask
    end: Positions
    material: Positions
    ends: tuple[EndType | None, ...]
    materials: tuple[Material, ...]

    def __len__(self) -> int:
        return len(self.height_mm)

    def of_end(self, is_such: Callable[[EndType | None], bool]) -> Mask:
        """Tell of each spring whether its end is such a one."""
        import numpy as np

        return np.array([is_such(end) for end in self.ends], dtype=bool)[self.end]

    def of_material(self, number: Callable[[Material], float]) -> Array:
        """Return a number of the material of each spring."""
        import numpy as np

        return np.array([number(material) for material in self.materials], dtype=float)[
            self.material
        ]

    def taken(self, where: Any) -> Springs:
        """Return some of the springs, by position or mask."""
        return replace(self, **{name: getattr(self, name)[where] for name in _COLUMNS})


_COLUMNS = [each.name for each in fields(Springs) if each.name not in ("ends", "materials")]


def of_class(springs: Springs, which: int) -> Springs:
    """Return springs with a material that nobody states taken as one of those it may be.

    Args:
        springs: of a stock.
        which: 0 for the weakest, -1 for the strongest.
    """
    return replace(springs, materials=tuple(classes_of(each)[which] for each in springs.materials))


def columns_of(stock: Sequence[StockSpring], grade: Grade) -> Springs:
    """Return a stock as columns, with default tolerances where it states none.

    Raises:
        InputError: two springs bear one name, a name is not a text, a size is not above zero,
            or an end or a material is not known.
    """
    import numpy as np

    _check_names(stock)
    n = len(stock)
    height = np.fromiter((each.height_mm for each in stock), float, n)
    thickness = np.fromiter((each.thickness_mm for each in stock), float, n)
    length = np.fromiter((each.length_mm for each in stock), float, n)
    off_height = _stated((each.height_tolerance_mm for each in stock), n)
    off_thickness = _stated((each.thickness_tolerance_mm for each in stock), n)
    off_length = _stated((each.length_tolerance_mm for each in stock), n)
    _check_sizes(stock, (height, thickness, length), (off_height, off_thickness, off_length))
    strip = thickness_tolerance_mm(thickness, grade)
    end, end_names = _positions([each.end for each in stock])
    material, material_names = _positions([each.material for each in stock])
    return Springs(
        height_mm=height,
        thickness_mm=thickness,
        length_mm=length,
        height_tolerance_mm=np.where(np.isnan(off_height), HEIGHT_MM, off_height),
        thickness_tolerance_mm=np.where(np.isnan(off_thickness), strip, off_thickness),
        length_tolerance_mm=np.where(np.isnan(off_length), LENGTH_PART * length, off_length),
        on_hand=np.fromiter((each.on_hand > 0 for each in stock), bool, n),
        end=end,
        material=material,
        ends=tuple(None if name is None else end_named(name) for name in end_names),
        materials=tuple(material_named(name or OPEN) for name in material_names),
    )


def _check_names(stock: Sequence[StockSpring]) -> None:
    names = {each.item for each in stock}
    if len(names) == len(stock) and _is_text("".join(names)):
        return
    seen: set[str] = set()
    for each in stock:
        if not _is_text(each.item):
            raise InputError(
                f"The name {each.item!r} of a spring is broken text that cannot be written.",
                hint="Type the name of the item again in the list.",
            )
        if each.item in seen:
            raise InputError(
                f"Two springs of the stock are called {each.item!r}.",
                hint="Give each item of the list a name of its own.",
            )
        seen.add(each.item)


def _is_text(name: str) -> bool:
    """Tell whether a name is whole: half of a surrogate pair has no bytes."""
    try:
        name.encode()
    except UnicodeEncodeError:
        return False
    return True


def _check_sizes(
    stock: Sequence[StockSpring], sizes: Sequence[Array], tolerances: Sequence[Array]
) -> None:
    import numpy as np

    wrong = ~np.all([np.isfinite(size) & (size > 0) for size in sizes], axis=0)
    wrong |= np.any([off < 0 for off in tolerances], axis=0)
    for position in np.flatnonzero(wrong)[:1].tolist():
        raise InputError(
            f"The spring {stock[position].item!r} has an impossible size or tolerance.",
            hint="Give height, thickness and length in mm, above zero, tolerances too.",
        )


def _stated(tolerances: Iterable[float | None], n: int) -> Array:
    import numpy as np

    return np.fromiter((math.nan if off is None else off for off in tolerances), float, n)


def _positions(names: Sequence[str | None]) -> tuple[Positions, tuple[str | None, ...]]:
    import numpy as np

    known = tuple(dict.fromkeys(names)) or (None,)
    place = {name: position for position, name in enumerate(known)}
    return np.fromiter(map(place.__getitem__, names), np.intp, len(names)), known


class Grade(StrEnum):
    """How closely the strip was rolled: three grades of the standard, and what is usual."""

    NORMAL = "normal"
    FINE = "fine"
    PRECISION = "precision"
    WATCH = "watch"


WATCH_THICKNESS_MM = 0.002  # from memory
HEIGHT_MM = 0.02  # from memory; slit strip as bought may be +0.2 mm
LENGTH_PART = 0.01  # judgement: what cutting to length leaves


@functools.cache
def _strip_table() -> list[dict[str, Any]]:
    """Return the tolerances of narrow cold-rolled strip: ISO 9445-1 and EN 10258.

    In mm, or parts of the thickness where ``relative``.
    """
    return shipped_rows("gaugelink.choosing", "strip")


def thickness_tolerance_mm(thickness_mm: Array, grade: Grade) -> Array:
    """Return how far strip of these thicknesses may be off either way, in mm.

    Below the table its first row holds, above it the last one.
    """
    import numpy as np

    if grade is Grade.WATCH:
        return np.full_like(thickness_mm, WATCH_THICKNESS_MM)
    table = _strip_table()
    # The limits are decimals: 0.15 typed is a hair below 0.15 computed.
    limits = [row["thickness"].high - 1e-9 for row in table[:-1]]
    where = np.searchsorted(limits, thickness_mm, side="right")
    stated = np.array([row[grade.value].high for row in table])[where]
    relative = np.array([row["relative"] for row in table])[where]
    return np.where(relative, stated * thickness_mm, stated)
