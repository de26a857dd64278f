"""The springs on hand nearest in size to one that has run out."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st
from stock_lists import SPRING
from stock_strategies import stocks

from gaugelink.stock.stock_spring import StockSpring, nearest, steps_between

GONE = replace(SPRING, item="gone", on_hand=0)


def of(item: str, **size: float) -> StockSpring:
    return replace(SPRING, item=item, **size)


def test_the_nearest_is_first_and_the_far_are_left_out() -> None:
    stock = (
        of("longer", length_mm=396.0),  # two steps of 5 %
        of("a step thicker", thickness_mm=0.125),
        GONE,
        of("empty drawer", on_hand=0),
        of("pocket watch", height_mm=2.4, thickness_mm=0.2, length_mm=560.0),
        of("the same"),
    )
    found = [spring.item for spring in nearest(GONE, stock)]
    assert found == ["the same", "a step thicker", "longer"]


def test_of_two_equally_near_the_thinner_is_first() -> None:
    stock = (of("thicker", thickness_mm=0.13), of("thinner", thickness_mm=0.11))
    assert [spring.item for spring in nearest(GONE, stock)] == ["thinner", "thicker"]


@given(stock=stocks, most=st.integers(1, 9))
def test_a_slow_search_finds_the_same(stock: list[StockSpring], most: int) -> None:
    spring = stock[0]
    slow = sorted(
        (s for s in stock[1:] if s.on_hand and steps_between(spring, s) <= 6),
        key=lambda s: (steps_between(spring, s), s.thickness_mm, s.item),
    )
    assert nearest(spring, stock, most=most) == tuple(slow[:most])
