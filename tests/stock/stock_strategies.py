"""Any stock that a list can hold, for hypothesis."""

from __future__ import annotations

from hypothesis import strategies as st

from gaugelink.mechanics.materials import shipped_ends, shipped_materials
from gaugelink.stock.reading import LIMITS, MOST_ON_HAND
from gaugelink.stock.stock_spring import StockSpring, item_key

_LETTERS = st.characters(exclude_categories=("Cc", "Cs"))
_MATERIALS = [*(material.name for material in shipped_materials()), "white", "open"]


def _stripped(text: str) -> bool:
    return text == text.strip()


def _perhaps_formula(texts: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    """The same, and with what a spreadsheet works out before it."""
    return st.builds(str.__add__, st.sampled_from(["", "", "=", "'=", "+", "-", "@", "''-"]), texts)


items = _perhaps_formula(st.text(_LETTERS, min_size=1, max_size=20)).filter(
    lambda t: bool(t.strip()) and _stripped(t)
)
notes = _perhaps_formula(st.text(_LETTERS | st.sampled_from('\n\t",;'), max_size=40)).filter(
    _stripped
)


def sizes(name: str) -> st.SearchStrategy[float]:
    return st.floats(LIMITS[name].low_mm, LIMITS[name].high_mm)


def tolerances(name: str) -> st.SearchStrategy[float | None]:
    return st.none() | st.floats(1e-6, LIMITS[name].low_mm / 2)


springs = st.builds(
    StockSpring,
    item=items,
    height_mm=sizes("height"),
    thickness_mm=sizes("thickness"),
    length_mm=sizes("length"),
    height_tolerance_mm=tolerances("height"),
    thickness_tolerance_mm=tolerances("thickness"),
    length_tolerance_mm=tolerances("length"),
    end=st.none() | st.sampled_from([end.name for end in shipped_ends()]),
    material=st.none() | st.sampled_from(_MATERIALS),
    on_hand=st.integers(0, MOST_ON_HAND),
    reorder_at=st.integers(0, MOST_ON_HAND),
    note=notes,
)
stocks = st.lists(springs, min_size=1, max_size=8, unique_by=lambda spring: item_key(spring.item))
