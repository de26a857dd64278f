"""The stock as text: what is on hand, what is running out, what changed, what is wrong."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from gaugelink.report.table import WIDTH
from gaugelink.report.text_stock import (
    MOST_FAULTS,
    faults_text,
    move_text,
    reading_text,
    stock_table,
    stock_text,
)
from gaugelink.stock.change import ChangedSpring, StockChange, StockMove, compare
from gaugelink.stock.reading import RowFault, StockList, read_stock
from gaugelink.stock.stock_spring import StockSpring

DEMO = Path(__file__).parents[2] / "fixtures" / "stock" / "demo_stock.csv"
SPRING = StockSpring(item="A1", height_mm=1.2, thickness_mm=0.12, length_mm=360.0, on_hand=2)
LOW = replace(
    SPRING,
    item="a rather long name of an item",
    thickness_mm=0.1251,
    end="slipping-bridle",
    material="carbon-steel",
    on_hand=0,
    note="over\ntwo lines",
)


def flowing(text: str) -> str:
    return " ".join(text.split())


def rows_of(text: str) -> list[list[str]]:
    return [line.split() for line in text.splitlines()]


def fault(line: int) -> RowFault:
    return RowFault(line=line, column="height (mm)", fault="It is wrong.", hint="Put it right.")


def test_an_empty_stock_says_how_to_begin() -> None:
    assert "gaugelink stock FILE" in stock_text([], 0)
    assert stock_text([], 5) == "Nothing like that among 5 sizes."


def test_the_head_counts_and_the_table_lines_up() -> None:
    head, header, first, second = stock_text([SPRING, LOW], 7).splitlines()
    assert head == "STOCK  2 of 7 sizes, 2 on hand, 1 running out; mm"
    assert header.split() == ["item", "height", "thickness", "length", "end", "metal", "on", "hand"]
    assert first.split() == ["A1", "1.20", "0.1200", "360", "-", "-", "2"]
    assert second.split()[-7:] == ["1.20", "0.1251", "360", "slipping-bridle", "blued", "0", "low"]
    assert "a rather long n…" in second
    assert stock_text([SPRING, LOW], 2).startswith("STOCK  2 sizes, ")


@pytest.mark.parametrize(
    ("material", "metal"),
    [("carbon-steel", "blued"), ("cobalt-nickel", "white"), ("white", "white"), ("open", "-")],
)
def test_the_metal_is_what_the_eye_can_tell(material: str, metal: str) -> None:
    assert rows_of(stock_table([replace(SPRING, material=material)]))[1][5] == metal


def test_one_spring_alone_is_shown_in_full() -> None:
    one = replace(LOW, height_tolerance_mm=0.02, length_tolerance_mm=5.0, reorder_at=1)
    text = stock_text([one], 7)
    assert "tolerances: height ±0.02 mm, length ±5 mm" in text
    assert "material: carbon-steel" in text
    assert "reorder at: 1" in text
    assert "note: over two lines" in text


def test_everything_fits_the_narrowest_terminal() -> None:
    demo = read_stock(DEMO).springs
    wide = replace(LOW, item="W" * 80, end="slipping-bridle", on_hand=1000, reorder_at=9)
    read = StockList(path="/a/long/path" * 9, springs=(SPRING, wide), unused=("price",) * 30)
    texts = [
        stock_text([*demo, wide], 301),
        move_text(StockMove(spring=wide, count=1, running_out=demo, alternatives=demo[:3])),
        reading_text(replace(read, path="list.csv"), compare(demo, [SPRING, wide, demo[0]])),
        faults_text(replace(read, path="list.csv", faults=tuple(fault(n) for n in range(30)))),
    ]
    for text in texts:
        assert max(map(len, text.splitlines())) <= WIDTH


def test_a_change_is_told_by_item() -> None:
    now = replace(SPRING, on_hand=3, note="", length_mm=380.0, end="hook")
    gone, new = replace(SPRING, item="G"), replace(SPRING, item="N")
    read = StockList(path="list.csv", springs=(now, new))
    text = reading_text(read, compare([SPRING, gone], [now, new]))
    head, *lines = text.splitlines()
    assert head == "STOCK  2 sizes read: 1 new, 1 changed, 1 gone; from list.csv."
    assert lines == [
        "  new      N: 1.2 x 0.12 x 360 mm, 2 on hand",
        "  changed  A1: length 360 -> 380, end - -> hook, on hand 2 -> 3",
        "  gone     G: 1.2 x 0.12 x 360 mm, 2 on hand",
    ]


def test_a_first_list_is_not_told_row_by_row() -> None:
    demo = read_stock(DEMO)
    text = reading_text(demo, compare([], demo.springs))
    assert flowing(text) == f"STOCK 300 sizes read: 300 new; from {DEMO}."


def test_a_long_change_is_cut_and_counted() -> None:
    demo = replace(read_stock(DEMO), path="list.csv")
    lines = reading_text(demo, compare([*demo.springs, SPRING], [SPRING])).splitlines()
    assert len(lines) == 1 + 10 + 1
    assert lines[-1] == "  and 290 more"


def test_what_was_not_read_is_said() -> None:
    read = StockList(
        path="list.xlsx",
        springs=(SPRING,),
        unused=("price", "shop"),
        sheet="Springs",
        other_sheets=("Old",),
    )
    text = flowing(reading_text(read, compare([], read.springs)))
    assert "1 new; from list.xlsx, sheet 'Springs'." in text
    assert "Columns that are not used: price, shop." in text
    assert "Sheets that were not read: Old." in text


def test_the_first_faults_are_listed_and_all_are_counted() -> None:
    faults = tuple(fault(n) for n in range(2, 32))
    text = faults_text(StockList(path="list.csv", springs=(), faults=faults))
    lines = text.splitlines()
    assert lines[0] == "FAULTS  30 in 30 rows of list.csv:"
    assert lines[1] == "  line 2, height (mm): It is wrong. Put it right."
    assert len(lines) == 1 + MOST_FAULTS + 1
    assert lines[-1] == "  and 10 more"


def test_a_use_says_what_is_left_and_what_else_is_running_out() -> None:
    left = replace(SPRING, on_hand=1)
    assert move_text(StockMove(spring=left, count=1)) == "1 of A1 taken out: 1 left."
    text = move_text(StockMove(spring=left, count=-2, job_id=4, running_out=(LOW,)))
    assert flowing(text) == (
        "2 of A1 brought back for job 4: 1 left. Running out: a rather long n… (0)."
    )


def test_what_is_running_out_is_said_once() -> None:
    empty, near = replace(SPRING, on_hand=0), replace(SPRING, item="B2", on_hand=1, reorder_at=1)
    move = StockMove(
        spring=empty, count=1, running_out=(empty, near, LOW), alternatives=(near, SPRING)
    )
    text = flowing(move_text(move))
    assert text.count("B2") == 1  # in the table, where it is marked low
    assert text.endswith("Also running out: a rather long n… (0).")
    only = move_text(replace(move, running_out=(empty, near)))
    assert "Also" not in only


def test_counts_that_stay_as_used_are_told() -> None:
    kept = (ChangedSpring(before=SPRING, now=replace(SPRING, on_hand=1)),)
    read = StockList(path="list.csv", springs=(SPRING,))
    text = flowing(reading_text(read, StockChange(same=(SPRING,), kept=kept)))
    assert text.endswith("The list is unchanged here, so springs you used stay used: A1 (1).")
    many = flowing(reading_text(read, StockChange(same=(SPRING,), kept=kept * 12)))
    assert many.endswith("A1 (1) and 2 more.")


def test_the_last_one_names_what_is_near() -> None:
    empty = replace(SPRING, on_hand=0)
    text = move_text(StockMove(spring=empty, count=1, running_out=(empty,), alternatives=(SPRING,)))
    first, head, *_, row = text.splitlines()
    assert first == "1 of A1 taken out: 0 left, running out."
    assert "gaugelink choose" in head
    assert row.split()[:4] == ["A1", "1.20", "0.12", "360"]
    alone = move_text(StockMove(spring=empty, count=1, running_out=(empty,)))
    assert alone.splitlines()[-1] == "Nothing on hand is near it in size."


@pytest.mark.parametrize(
    ("n_rows", "told"),
    [(1, "1 row has an empty count"), (4, "4 rows have an empty count"), (0, "")],
)
def test_empty_counts_are_told(n_rows: int, told: str) -> None:
    read = StockList(path="list.csv", springs=(SPRING,), n_blank_counts=n_rows)
    text = reading_text(read, compare((), (SPRING,)))
    assert ("taken as none on hand." in text) is bool(told)
    assert told in text
