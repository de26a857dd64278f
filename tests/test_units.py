"""The factor between mm and inch, and the step that the last digit stands for."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.units import MM_PER_INCH, LengthUnit, step_mm, to_mm


def test_the_inch_is_exact() -> None:
    # 1 in = 25.4 mm exactly: ISO 31-1, annex B.
    assert Decimal("25.4") == MM_PER_INCH


@pytest.mark.parametrize(
    ("shown", "unit", "value_mm", "digit_mm"),
    [
        ("11.52", LengthUnit.MM, 11.52, 0.01),
        ("12.340", LengthUnit.MM, 12.34, 0.001),
        ("0.1000", LengthUnit.MM, 0.1, 0.0001),
        ("7", LengthUnit.MM, 7.0, 1.0),
        ("0.4535", LengthUnit.INCH, 11.5189, 0.00254),
        ("-1", LengthUnit.INCH, -25.4, 25.4),
    ],
)
def test_a_display_becomes_a_length_and_its_step(
    shown: str, unit: LengthUnit, value_mm: float, digit_mm: float
) -> None:
    assert to_mm(Decimal(shown), unit) == value_mm
    assert step_mm(Decimal(shown), unit) == digit_mm


@given(st.decimals(-1000, 1000, places=4))
def test_an_inch_display_is_rounded_only_once(value: Decimal) -> None:
    assert to_mm(value, LengthUnit.INCH) == float(value * 254 / 10)
    assert to_mm(value, LengthUnit.MM) == float(value)


@given(st.integers(-(10**7), 10**7), st.integers(0, 6))
def test_the_step_depends_on_the_digits_and_not_on_the_value(number: int, places: int) -> None:
    value = Decimal(number).scaleb(-places)
    assert step_mm(value, LengthUnit.MM) == float(f"1e-{places}")
