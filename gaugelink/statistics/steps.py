"""Lengths counted in display steps, the grain below which readings say nothing.

With n - 1 equal readings and one that differs, Grubbs' statistic exceeds its 1 %
critical value for every n >= 4, even when the difference is a single digit. So
each verdict of this stage also asks how many display steps a difference is.
"""

from __future__ import annotations

import math

GUARD_STEPS = 3


def in_steps(length_mm: float, resolution_mm: float) -> float:
    """Express a length as a number of display steps.

    Rounded to a millionth of a step: 12.03 - 12.00 counts as three steps of
    0.01 mm although the binary fractions differ by a little more or less.

    Args:
        length_mm: any finite length.
        resolution_mm: display step, > 0.

    Returns:
        The number of steps, not necessarily whole.

    >>> in_steps(12.03 - 12.00, 0.01)
    3.0
    """
    return round(length_mm / resolution_mm, 6)


def displayed_mm(length_mm: float, resolution_mm: float) -> str:
    """Write a length in mm with as many decimals as the display step has.

    Args:
        length_mm: any finite length.
        resolution_mm: display step, > 0; 0.0127 mm (half a thousandth of an inch) counts as 0.01.

    Returns:
        The text, such as ``11.02 mm``.

    >>> displayed_mm(11.0234, 0.01)
    '11.02 mm'
    """
    decimals = max(0, -math.floor(math.log10(resolution_mm) + 1e-9))
    return f"{length_mm:.{decimals}f} mm"
