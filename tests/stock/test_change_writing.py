"""What is written is read again as it was, to the last bit."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest
from examples import examples
from hypothesis import HealthCheck, given, settings
from stock_lists import SPRING
from stock_strategies import stocks

from gaugelink.errors import InputError
from gaugelink.stock.change import stock_csv, write_stock
from gaugelink.stock.columns import FIELDS
from gaugelink.stock.reading import read_stock
from gaugelink.stock.stock_spring import StockSpring


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=examples(100))
@given(springs=stocks)
def test_writing_and_reading_gives_the_same_springs(
    springs: list[StockSpring], tmp_path: Path
) -> None:
    path = tmp_path / "stock.csv"
    path.unlink(missing_ok=True)
    write_stock(path, springs)
    read = read_stock(path)
    assert read.faults == ()
    assert read.springs == tuple(springs)
    assert stock_csv(read.springs) == stock_csv(springs)


@pytest.mark.parametrize(
    "text", ["=cmd|'/C calc'!A0", "+SUM(A1)", "-1+cmd|x", "@SUM(A1)", "'=1+1", "＝1+1", "\t=1"]
)
def test_no_text_is_worked_out_by_a_spreadsheet(text: str) -> None:
    (row,) = csv.DictReader(stock_csv([replace(SPRING, item=text, note=text)]).splitlines())
    assert row["item"] == row["note"] == f"'{text}"


def test_a_number_stays_a_number_to_a_spreadsheet() -> None:
    (row,) = csv.DictReader(stock_csv([replace(SPRING, item="-12", note="-0,5")]).splitlines())
    assert (row["item"], row["note"]) == ("-12", "-0,5")


def test_another_program_finds_units_in_the_headings() -> None:
    (row,) = csv.DictReader(stock_csv([replace(SPRING, note="a,b")]).splitlines())
    assert len(row) == len(FIELDS)
    assert (row["item"], row["thickness (mm)"], row["note"]) == ("A1", "0.12", "a,b")


@pytest.mark.parametrize(("note", "begins"), [("plain", b"item"), ("Größe", b"\xef\xbb\xbfitem")])
def test_only_text_beyond_ascii_needs_a_byte_order_mark(
    note: str, begins: bytes, tmp_path: Path
) -> None:
    path = tmp_path / "stock.csv"
    write_stock(path, [replace(SPRING, note=note)])
    assert path.read_bytes().startswith(begins)
    assert read_stock(path).springs[0].note == note


def test_a_file_that_is_there_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "mine.csv"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="cannot be written") as caught:
        write_stock(path, [SPRING])
    assert path.read_text(encoding="utf-8") == "mine"
    assert "new file" in caught.value.hint


def test_a_name_that_promises_a_spreadsheet_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="would not be a spreadsheet"):
        write_stock(tmp_path / "stock.XLSX", [SPRING])
    assert list(tmp_path.iterdir()) == []
