"""The invented stock: what is shipped is what the script makes, and it says that it is invented."""

from __future__ import annotations

import runpy
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import pytest

from gaugelink.mechanics.materials import shipped_ends
from gaugelink.stock.change import stock_csv
from gaugelink.stock.reading import read_stock
from gaugelink.stock.stock_spring import StockSpring

FIXTURES = Path(__file__).parents[2] / "fixtures"
CSV = FIXTURES / "stock" / "demo_stock.csv"
MAKE = runpy.run_path(str(FIXTURES / "make_stock.py"))


@pytest.fixture(name="stock", scope="module")
def stock_as_read() -> tuple[StockSpring, ...]:
    return read_stock(CSV).springs


def test_the_script_makes_what_is_shipped(stock: tuple[StockSpring, ...]) -> None:
    made = MAKE["demo_stock"]()
    assert made == stock
    packaged = files("gaugelink.demo").joinpath("stock.csv").read_text(encoding="utf-8")
    assert packaged == CSV.read_text(encoding="utf-8") == stock_csv(made)


def test_the_spreadsheet_holds_the_same(stock: tuple[StockSpring, ...], tmp_path: Path) -> None:
    assert read_stock(CSV.with_suffix(".xlsx")).springs == stock
    MAKE["write_xlsx"](tmp_path / "again.xlsx", stock)
    assert read_stock(tmp_path / "again.xlsx").springs == stock


def test_it_says_that_it_is_invented(stock: tuple[StockSpring, ...]) -> None:
    assert all(spring.note == "invented" for spring in stock)
    assert all(spring.item.startswith("demo-") for spring in stock)
    assert "invented" in read_stock(CSV.with_suffix(".xlsx"), sheet="Springs").springs[0].note


def test_it_has_some_300_sizes_in_the_steps_of_the_trade(stock: tuple[StockSpring, ...]) -> None:
    assert 290 <= len(stock) <= 310
    for spring in stock:
        for size_mm, step_mm in (
            (spring.height_mm, 0.05),
            (spring.thickness_mm, 0.005),
            (spring.length_mm, 10.0),
        ):
            assert size_mm / step_mm == pytest.approx(round(size_mm / step_mm), abs=1e-9)
    bare = {replace(s, item="", on_hand=0, reorder_at=0) for s in stock}
    assert len(bare) == len(stock)


def test_it_has_the_usual_range_for_a_barrel_of_11_mm(stock: tuple[StockSpring, ...]) -> None:
    """Common practice: thickness 0.095 to 0.16 mm, length 300 to 400 mm, some 150 sizes."""
    usual = stock[:150]
    thicknesses = sorted({spring.thickness_mm for spring in usual})
    assert (thicknesses[0], thicknesses[-1]) == (0.095, 0.16)
    assert {spring.length_mm for spring in usual} == set(range(300, 401, 20))


def test_it_is_a_mixed_stock(stock: tuple[StockSpring, ...]) -> None:
    assert {spring.end for spring in stock} == {end.name for end in shipped_ends()}
    assert {spring.material for spring in stock} >= {"carbon-steel", "white"}
    low = sum(spring.running_out for spring in stock)
    assert 10 <= low <= len(stock) / 4
