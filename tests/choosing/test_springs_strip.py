"""Tolerances of strip. ISO 9445-1 / EN 10258, as summarised by the BSSA."""

from __future__ import annotations

import numpy as np
import pytest
from choosing_bench import spring

from gaugelink.choosing.springs import Grade, columns_of, thickness_tolerance_mm


@pytest.mark.parametrize(
    ("thickness", "normal", "fine", "precision"),
    [
        (0.08, 0.008, 0.0048, 0.0032),  # 10, 6 and 4 per cent
        (0.04, 0.004, 0.0024, 0.0016),  # below the table: its first row
        (0.10, 0.010, 0.008, 0.006),
        (0.12, 0.010, 0.008, 0.006),
        (0.15, 0.015, 0.010, 0.008),
        (0.22, 0.015, 0.012, 0.008),
        (0.28, 0.017, 0.012, 0.009),
        (0.40, 0.017, 0.012, 0.009),  # above the table: its last row
    ],
)
def test_the_table(thickness: float, normal: float, fine: float, precision: float) -> None:
    wanted = {Grade.NORMAL: normal, Grade.FINE: fine, Grade.PRECISION: precision}
    for grade, tolerance in wanted.items():
        found = thickness_tolerance_mm(np.array([thickness]), grade)
        assert found == pytest.approx([tolerance]), grade


def test_a_computed_limit_is_in_the_same_row_as_a_typed_one() -> None:
    computed = 0.1 + 0.05  # 0.15000000000000002; 3 * 0.05 likewise
    typed, other = thickness_tolerance_mm(np.array([0.15, computed]), Grade.FINE)
    assert typed == other


def test_strip_for_watches_is_held_closer() -> None:
    found = thickness_tolerance_mm(np.array([0.08, 0.2]), Grade.WATCH)
    np.testing.assert_array_equal(found, [0.002, 0.002])  # from memory


def test_what_the_stock_states_goes_before_any_table() -> None:
    stated = spring(
        0.12, thickness_tolerance_mm=0.001, height_tolerance_mm=0.0, length_tolerance_mm=2.0
    )
    columns = columns_of([stated, spring(0.13)], Grade.PRECISION)
    np.testing.assert_allclose(columns.thickness_tolerance_mm, [0.001, 0.006])
    np.testing.assert_allclose(columns.height_tolerance_mm, [0.0, 0.02])  # from memory
    np.testing.assert_allclose(columns.length_tolerance_mm, [2.0, 3.5])  # judgement: 1 %
