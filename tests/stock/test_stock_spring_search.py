"""Finding springs by size, by text and by what is running out."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from stock_lists import SPRING

from gaugelink.errors import InputError
from gaugelink.stock.stock_spring import SizeRange, StockSearch, found, span_from_text

NONE_LEFT = replace(SPRING, item="B2", on_hand=0, end="tongue", note="Drawer 7")
LOW = replace(SPRING, item="C3", on_hand=2, reorder_at=2, material="white")
STOCK = (SPRING, NONE_LEFT, LOW)


@pytest.mark.parametrize(
    ("text", "size", "low_mm", "high_mm"),
    [
        ("0.12..0.13", "thickness", 0.12, 0.13),
        ("..0.13", "thickness", 0.0, 0.13),
        ("0.12..", "thickness", 0.12, math.inf),
        ("12/100 .. 13/100", "thickness", 0.12, 0.13),
        ("1..2 in", "height", 25.4, 50.8),
        ("1 mm..0.1 in", "height", 1.0, 2.54),
        ("0,12..0,13", "thickness", 0.12, 0.13),
        # near: a step or two of the sizes that are sold, common practice
        ("1.2", "height", 1.1, 1.3),
        ("0.12", "thickness", 0.11, 0.13),
        ("360", "length", 342.0, 378.0),
        ("36 cm", "length", 342.0, 378.0),
    ],
)
def test_a_range_or_what_is_near_a_size(
    text: str, size: str, low_mm: float, high_mm: float
) -> None:
    span = span_from_text(text, size)
    assert (span.low_mm, span.high_mm) == pytest.approx((low_mm, high_mm))
    assert span.holds(low_mm)
    assert span.holds(min(high_mm, 1e6))
    assert not span.holds(low_mm - 0.001)
    assert not span.holds(high_mm + 0.001) or high_mm == math.inf


def test_what_only_binary_fractions_tell_apart_is_one_size() -> None:
    a_little_more_mm = 0.1 + 0.2
    assert a_little_more_mm > 0.3
    assert SizeRange(high_mm=0.3).holds(a_little_more_mm)
    assert SizeRange(low_mm=a_little_more_mm).holds(0.3)


@pytest.mark.parametrize("text", ["", "..", "abc", "1..x", "2..1", "1.2+-0.1", "1 kg", "1..2..3"])
def test_what_is_no_range_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="height: ") as caught:
        span_from_text(text, "height")
    assert caught.value.hint


@pytest.mark.parametrize(
    ("search", "items"),
    [
        (StockSearch(), "A1 B2 C3"),
        (StockSearch(low=True), "B2 C3"),
        (StockSearch(text="DRAWER"), "B2"),
        (StockSearch(text="tong"), "B2"),
        (StockSearch(text="white"), "C3"),
        (StockSearch(text="a1"), "A1"),
        (StockSearch(text="drawer", low=True), "B2"),
        (StockSearch(height=SizeRange(low_mm=1.2)), "A1 B2 C3"),
        (StockSearch(height=SizeRange(low_mm=1.21)), ""),
        (StockSearch(thickness=SizeRange(high_mm=0.11)), ""),
        (StockSearch(length=SizeRange(low_mm=350, high_mm=370)), "A1 B2 C3"),
    ],
)
def test_every_condition_must_hold(search: StockSearch, items: str) -> None:
    assert " ".join(spring.item for spring in found(STOCK, search)) == items


@pytest.mark.parametrize(
    ("on_hand", "reorder_at", "low"), [(0, 0, True), (1, 0, False), (2, 2, True), (3, 2, False)]
)
def test_running_out_is_no_more_than_the_reorder_count(
    on_hand: int, reorder_at: int, low: bool
) -> None:
    assert replace(SPRING, on_hand=on_hand, reorder_at=reorder_at).running_out is low
