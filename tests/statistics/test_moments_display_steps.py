"""Lengths counted and written in display steps."""

from __future__ import annotations

import pytest

from gaugelink.statistics.moments import displayed_mm, in_steps


@pytest.mark.parametrize("start_mm", [0.0, 1.1, 9.87, 12.0, 19.99, 150.0])
@pytest.mark.parametrize("step_mm", [0.1, 0.01, 0.001, 0.0127, 0.00127])
def test_whole_steps_are_whole_numbers(start_mm: float, step_mm: float) -> None:
    for count in range(12):
        assert in_steps(start_mm + count * step_mm - start_mm, step_mm) == count


@pytest.mark.parametrize(
    ("step_mm", "text"),
    [(1.0, "11 mm"), (0.1, "11.0 mm"), (0.01, "11.02 mm"), (0.001, "11.023 mm")],
)
def test_decimals_follow_the_step(step_mm: float, text: str) -> None:
    assert displayed_mm(11.02345, step_mm) == text


@pytest.mark.parametrize(("step_mm", "text"), [(0.0127, "11.02 mm"), (0.00127, "11.023 mm")])
def test_inch_steps_keep_the_decimals_they_fill(step_mm: float, text: str) -> None:
    assert displayed_mm(11.02345, step_mm) == text
