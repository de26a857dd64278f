"""A stock as columns, and what is refused as a stock."""

from __future__ import annotations

import math

import numpy as np
import pytest
from choosing_bench import spring

from gaugelink.choosing.springs import Grade, columns_of
from gaugelink.errors import InputError


def test_columns_keep_the_order_of_the_stock() -> None:
    stock = [
        spring(0.12, 1.5, 350.0, end="tongue", material="carbon-steel"),
        spring(0.13, 1.4, 300.0, on_hand=0),
        spring(0.11, 1.3, 400.0, end="tongue"),
    ]
    columns = columns_of(stock, Grade.WATCH)
    np.testing.assert_array_equal(columns.thickness_mm, [0.12, 0.13, 0.11])
    np.testing.assert_array_equal(columns.on_hand, [True, False, True])
    names = [end and end.name for end in columns.ends]
    assert [names[i] for i in columns.end] == ["tongue", None, "tongue"]
    materials = [columns.materials[i].name for i in columns.material]
    assert materials == ["carbon-steel", "open", "open"]


def test_a_part_of_the_stock_is_taken_by_position() -> None:
    columns = columns_of([spring(0.12), spring(0.13), spring(0.14)], Grade.WATCH)
    some = columns.taken(np.array([2, 0]))
    np.testing.assert_array_equal(some.thickness_mm, [0.14, 0.12])
    assert len(some) == 2


@pytest.mark.parametrize(
    ("stock", "word"),
    [
        ([spring(0.12, item="a"), spring(0.13, item="a")], "'a'"),
        ([spring(0.0, item="b")], "'b'"),
        ([spring(0.12, item="c", length=math.nan)], "'c'"),
        ([spring(0.12, item="d", height=-1.0)], "'d'"),
        ([spring(0.12, item="e", height_tolerance_mm=-0.1)], "'e'"),
        ([spring(0.12, item="f\ud800")], r"'f\\ud800'"),
        ([spring(0.12, item="\ud800"), spring(0.12, item="\udc00")], r"'\\ud800'"),
        ([spring(0.12, end="glue")], "glue"),
        ([spring(0.12, material="cheese")], "cheese"),
    ],
)
def test_what_cannot_be_judged_is_refused_by_name(stock: list[object], word: str) -> None:
    with pytest.raises(InputError, match=word) as refused:
        columns_of(stock, Grade.WATCH)  # type: ignore[arg-type]
    assert refused.value.hint
