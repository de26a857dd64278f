"""How many digits of a standard uncertainty count: JCGM 101:2008, 7.9.2."""

from __future__ import annotations


def tolerance_of(u: float, digits: int = 1) -> float:
    """Return the numerical tolerance of a standard uncertainty, in its unit.

    delta = 10^l / 2 where u is rounded to c x 10^l with ``digits`` digits in c. Zero
    where u is zero. It lies between a twentieth and half of u for one digit, a tenth
    of that for two.

    Args:
        u: the standard uncertainty, not negative.
        digits: significant digits that count, 1 or more; JCGM 101 uses 1 or 2.

    >>> tolerance_of(0.0539), tolerance_of(0.0539, 2)
    (0.005, 0.0005)
    """
    if u == 0.0:
        return 0.0
    rounded = f"{u:.{digits - 1}e}"
    exponent = int(rounded.partition("e")[2]) - (digits - 1)
    return 0.5 * 10.0**exponent
