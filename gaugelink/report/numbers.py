"""Numbers as metrology writes them: value and interval rounded to what the uncertainty allows."""

from __future__ import annotations

import math

from gaugelink.uncertainty.estimate import Estimate

_SIGNIFICANT = 2  # digits of an uncertainty that are kept: GUM 7.2.6
_EXACT = 1e-9  # relative: narrower intervals are rounding noise


def decimals_for(uncertainty: float) -> int:
    """Return the decimals that show an uncertainty with two significant digits."""
    if not math.isfinite(uncertainty) or uncertainty <= 0:
        return 4
    # Rounded first: 0.0996 is written 0.10, not 0.100.
    rounded = f"{uncertainty:.{_SIGNIFICANT - 1}e}"
    return max(0, _SIGNIFICANT - 1 - int(rounded.partition("e")[2]))


def plus_minus(estimate: Estimate) -> str:
    """Write ``1.230 ± 0.049``; an exact value stands alone.

    An interval that lies lopsided by more than a tenth is written by its ends.
    """
    half = (estimate.high - estimate.low) / 2
    if half <= _EXACT * abs(estimate.value):
        return f"{estimate.value:.6g}"
    places = decimals_for(half)
    if abs((estimate.high + estimate.low) / 2 - estimate.value) > 0.1 * half:
        return (
            f"{estimate.value:.{places}f} ({estimate.low:.{places}f} .. {estimate.high:.{places}f})"
        )
    return f"{estimate.value:.{places}f} ± {half:.{places}f}"


def concise(estimate: Estimate) -> str:
    """Write ``1.2303(49)``: the value, and its standard uncertainty in the last digits.

    GUM 7.2.2, second form, with two significant digits (7.2.6). From 1 on the
    uncertainty keeps its point, ``334.1(8.1)``; an exact value stands alone.
    """
    if estimate.u <= _EXACT * abs(estimate.value):
        return f"{estimate.value:.6g}"
    places = decimals_for(estimate.u)
    in_brackets = f"{estimate.u:.{places}f}"
    if float(in_brackets) < 1.0:
        in_brackets = in_brackets.partition(".")[2].lstrip("0")
    return f"{estimate.value:.{places}f}({in_brackets})"


def length_mm(value_mm: float, step_mm: float) -> str:
    """Write a length in mm with the decimals of its digital step."""
    places = max(0, math.ceil(-math.log10(step_mm) - 1e-9)) if step_mm > 0 else 4
    return f"{value_mm:.{places}f}"
