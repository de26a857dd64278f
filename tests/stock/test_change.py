"""What a list changed, and a delivery that is added to what was there."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from stock_lists import SPRING
from stock_strategies import stocks

from gaugelink.errors import InputError
from gaugelink.stock.change import ChangedSpring, StockChange, compare, with_delivery
from gaugelink.stock.stock_spring import StockSpring

A = replace(SPRING, item="A", on_hand=2, reorder_at=1, note="drawer 3", end="hook")
B, C = replace(SPRING, item="B"), replace(SPRING, item="C")


def test_each_spring_is_new_changed_gone_or_the_same() -> None:
    more = replace(A, on_hand=5)
    assert compare([A, B], [more, C]) == StockChange(
        new=(C,), changed=(ChangedSpring(before=A, now=more),), gone=(B,), same=()
    )
    assert compare([A, B], [B, A]) == StockChange(same=(B, A))


def test_an_item_that_is_only_spelt_differently_has_changed() -> None:
    now = replace(A, item="a")
    assert compare([A], [now]).changed == (ChangedSpring(before=A, now=now),)


@given(before=stocks, now=stocks)
def test_every_spring_is_counted_once(before: list[StockSpring], now: list[StockSpring]) -> None:
    change = compare(before, now)
    assert len(change.new) + len(change.changed) + len(change.same) == len(now)
    assert len(change.gone) + len(change.changed) + len(change.same) == len(before)


def test_a_delivery_adds_to_what_is_there() -> None:
    came = [C, replace(SPRING, item=" a ", on_hand=3, material="white")]
    assert with_delivery([A, B], came) == (replace(A, on_hand=5, material="white"), B, C)


def test_what_a_delivery_says_of_note_and_reordering_holds() -> None:
    (now,) = with_delivery([A], [replace(A, on_hand=0, reorder_at=4, note="drawer 9")])
    assert now == replace(A, reorder_at=4, note="drawer 9")


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [
        ("height_mm", 1.25, "with height 1.2 mm, and the list adds it with 1.25 mm"),
        ("thickness_mm", 0.125, "thickness 0.12 mm"),
        ("length_mm", 361.0, "length 360.0 mm"),
        ("end", "hole", "end hook"),
    ],
)
def test_another_spring_under_the_same_name_is_refused(
    name: str, value: float | str, told: str
) -> None:
    with pytest.raises(InputError, match=told) as caught:
        with_delivery([A], [replace(A, **{name: value})])
    assert "nothing was added" in str(caught.value)
    assert "another item name" in caught.value.hint


@given(stock=stocks, delivery=stocks)
def test_no_spring_of_a_delivery_is_lost(
    stock: list[StockSpring], delivery: list[StockSpring]
) -> None:
    try:
        joined = with_delivery(stock, delivery)
    except InputError:
        return  # the same name for two springs
    assert sum(s.on_hand for s in joined) == sum(s.on_hand for s in stock + delivery)
