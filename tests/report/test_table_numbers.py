"""Numbers as they are written: rounded to what the uncertainty allows."""

from __future__ import annotations

import math
import re
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from gaugelink.report.table import concise, decimals_for, details, length_mm, plus_minus
from gaugelink.uncertainty.estimate import Estimate


def estimate(value: float, low: float, high: float) -> Estimate:
    return Estimate(label="x", value=value, u=1.0, dof=math.inf, unit="mm", low=low, high=high)


def around(value: float, half: float) -> Estimate:
    return estimate(value, value - half, value + half)


@pytest.mark.parametrize(
    ("value", "half", "written"),
    [
        (10.05762, 0.027, "10.058 ± 0.027"),  # GUM (JCGM 100:2008), 7.2.6, in ohm
        (0.0, 28.05, "0 ± 28"),  # GUM 7.2.6, in kHz
        (11.02, 0.0588, "11.020 ± 0.059"),
        (334.14, 8.06, "334.1 ± 8.1"),
        (251.0, 15.8, "251 ± 16"),
        (251.4, 115.8, "251 ± 116"),  # no digits are made up to the left of the point
        (0.126667, 0.000676, "0.12667 ± 0.00068"),
        (1.23, 0.0996, "1.23 ± 0.10"),  # rounding up makes no third digit
        (1.23, 0.00999, "1.230 ± 0.010"),
        (-0.5, 0.25, "-0.50 ± 0.25"),
    ],
)
def test_value_and_interval_have_the_same_decimals(value: float, half: float, written: str) -> None:
    assert plus_minus(around(value, half)) == written


@pytest.mark.parametrize(
    ("value", "written"), [(0.1, "0.1"), (0.125, "0.125"), (340.0, "340"), (1 / 3, "0.333333")]
)
def test_an_exact_value_stands_alone(value: float, written: str) -> None:
    assert plus_minus(estimate(value, value, value)) == written
    assert plus_minus(around(value, 1e-12 * value)) == written


@pytest.mark.parametrize(
    ("low", "high", "written"),
    [
        (9.0, 11.0, "10.0 ± 1.0"),
        (9.1, 11.0, "10.00 ± 0.95"),  # the middle is off by 0.05, less than a tenth of 0.95
        (9.2, 11.2, "10.0 (9.2 .. 11.2)"),
        (8.0, 10.5, "10.0 (8.0 .. 10.5)"),
    ],
)
def test_a_lopsided_interval_is_written_by_its_ends(low: float, high: float, written: str) -> None:
    assert plus_minus(estimate(10.0, low, high)) == written


@given(st.floats(1e-6, 9.4), st.floats(-1e3, 1e3))
def test_two_significant_digits_are_kept(half: float, value: float) -> None:
    assume(half > 1e-8 * abs(value))
    written = plus_minus(around(value, half))
    match = re.fullmatch(r"(-?[\d.]+) ± ([\d.]+)", written)
    assert match, written
    shown, shown_half = map(Decimal, match.groups())
    assert shown.as_tuple().exponent == shown_half.as_tuple().exponent
    digit = Decimal(1).scaleb(int(shown_half.as_tuple().exponent))
    assert 10 <= shown_half / digit <= 99
    assert abs(float(shown_half) - half) <= 0.501 * float(digit)
    assert abs(float(shown) - value) <= 0.501 * float(digit)


@pytest.mark.parametrize("nothing", [0.0, -1.0, math.inf, math.nan])
def test_without_an_uncertainty_four_decimals_are_shown(nothing: float) -> None:
    assert decimals_for(nothing) == 4


@pytest.mark.parametrize(
    ("value_mm", "step_mm", "written"),
    [
        (11.5, 0.01, "11.50"),
        (0.1, 0.001, "0.100"),
        (0.1, 0.0005, "0.1000"),
        (11.5189, 0.0127, "11.52"),  # half a thousandth of an inch
        (7.0, 1.0, "7"),
        (7.0, 10.0, "7"),
        (7.0, 0.0, "7.0000"),
    ],
)
def test_a_length_has_the_decimals_of_its_step(
    value_mm: float, step_mm: float, written: str
) -> None:
    assert length_mm(value_mm, step_mm) == written


def with_u(value: float, u: float) -> Estimate:
    return Estimate(label="x", value=value, u=u, dof=math.inf, unit="mm", low=value, high=value)


@pytest.mark.parametrize(
    ("value", "u", "written"),
    [
        (100.02147, 0.00035, "100.02147(35)"),  # GUM (JCGM 100:2008), 7.2.2, second form, in g
        (10.05762, 0.027, "10.058(27)"),  # the value of GUM 7.2.6, in ohm
        (11.5234, 0.0183, "11.523(18)"),
        (0.1234, 0.0006, "0.12340(60)"),
        (1.23, 0.0996, "1.23(10)"),  # rounding up makes no third digit
        (1.23, 0.996, "1.2(1.0)"),
        (334.14, 8.06, "334.1(8.1)"),
        (251.0, 15.8, "251(16)"),
        (-0.0012, 0.0034, "-0.0012(34)"),
        (0.5, 0.0, "0.5"),
        (0.5, 1e-12, "0.5"),
    ],
)
def test_a_standard_uncertainty_stands_in_brackets(value: float, u: float, written: str) -> None:
    assert concise(with_u(value, u)) == written


@given(st.floats(1e-6, 9.4), st.floats(-1e3, 1e3))
def test_brackets_read_back_as_the_uncertainty(u: float, value: float) -> None:
    assume(u > 1e-8 * abs(value))
    match = re.fullmatch(r"(-?[\d.]+)\(([\d.]+)\)", concise(with_u(value, u)))
    assert match
    shown, in_brackets = Decimal(match[1]), Decimal(match[2])
    digit = Decimal(1).scaleb(int(shown.as_tuple().exponent))
    read = in_brackets if "." in match[2] else in_brackets * digit
    assert abs(float(shown) - value) <= 0.501 * float(digit)
    assert abs(float(read) - u) <= 0.501 * float(digit)
    assert 10 <= read / digit <= 99


@pytest.mark.parametrize(
    ("u", "dof", "half", "told"),
    [
        (0.0174, 3985.6, 0.0341, ("0.017", "3985", "1.96")),
        (0.010, 4.9, 0.0278, ("0.010", "4", "2.78")),
        (0.0116, math.inf, 0.019, ("0.012", "∞", "1.64")),
        (0.0, math.inf, 0.0, ("-", "-", "-")),
    ],
)
def test_the_details_are_u_dof_and_k(
    u: float, dof: float, half: float, told: tuple[str, str, str]
) -> None:
    size = Estimate(label="a", value=11.0, u=u, dof=dof, unit="mm", low=11 - half, high=11 + half)
    assert details(size) == told
