"""The stock as JSON: these keys may be joined by others, and none is ever renamed."""

from __future__ import annotations

import json
from dataclasses import fields, replace

from gaugelink.report.json_records import move_json, reading_json, spring_json, stock_json
from gaugelink.stock.change import ChangedSpring, StockMove, compare
from gaugelink.stock.reading import RowFault, StockList
from gaugelink.stock.stock_spring import StockSpring

SPRING = StockSpring(item="A1", height_mm=1.2, thickness_mm=0.12, length_mm=360.0, on_hand=2)
EMPTY = replace(SPRING, item="B2", on_hand=0)
FAULT = RowFault(line=7, column="height", fault="It is wrong.", hint="Put it right.")


def test_every_field_of_a_spring_is_there() -> None:
    data = spring_json(SPRING)
    assert data.keys() == {field.name for field in fields(StockSpring)} | {"running_out"}
    assert json.loads(json.dumps(data)) == data
    assert (data["item"], data["thickness_mm"], data["end"]) == ("A1", 0.12, None)


def test_a_search_says_of_how_many() -> None:
    data = stock_json([SPRING, EMPTY], 9)
    assert data.keys() == {"schema", "n_sizes", "springs", "running_out"}
    assert (data["schema"], data["n_sizes"], data["running_out"]) == (1, 9, ["B2"])


def test_a_list_that_was_taken() -> None:
    more = replace(SPRING, on_hand=3)
    read = StockList(path="l.xlsx", springs=(more,), sheet="S", other_sheets=("T",), unused=("p",))
    read = replace(read, n_blank_counts=2)
    kept = ChangedSpring(before=replace(more, on_hand=4), now=more)
    data = reading_json(read, replace(compare([SPRING, EMPTY], [more]), kept=(kept,)))
    assert data == {
        "schema": 1,
        "file": "l.xlsx",
        "sheet": "S",
        "other_sheets": ["T"],
        "taken": True,
        "new": [],
        "changed": [{"before": spring_json(SPRING), "now": spring_json(more)}],
        "gone": [spring_json(EMPTY)],
        "n_same": 0,
        "kept": [{"item": "A1", "listed": 4, "on_hand": 3}],
        "n_blank_counts": 2,
        "n_faulty_rows": 0,
        "faults": [],
        "unused_columns": ["p"],
    }


def test_a_list_that_was_not_taken_says_why() -> None:
    data = reading_json(StockList(path="l.csv", springs=(SPRING,), faults=(FAULT,)), None)
    assert (data["taken"], data["new"], data["sheet"]) == (False, [], None)
    assert data["faults"] == [
        {"line": 7, "column": "height", "fault": "It is wrong.", "hint": "Put it right."}
    ]


def test_a_use_and_what_is_near() -> None:
    data = move_json(
        StockMove(spring=EMPTY, count=1, job_id=3, running_out=(EMPTY,), alternatives=(SPRING,))
    )
    assert data == {
        "schema": 1,
        "spring": spring_json(EMPTY),
        "taken": 1,
        "job": 3,
        "running_out": ["B2"],
        "alternatives": [spring_json(SPRING)],
    }
