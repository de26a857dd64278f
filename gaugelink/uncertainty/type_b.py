"""Standard uncertainties from knowledge other than repeated readings: type B, GUM 4.3.

Every function turns a stated bound into a standard uncertainty in the same unit.
"""

from __future__ import annotations

import math

from gaugelink.errors import InputError


def rectangular(half_width: float) -> float:
    """Return the standard uncertainty of a value known only to lie within +-half_width.

    a / sqrt(3): GUM 4.3.7, all values within the bounds equally probable.

    Args:
        half_width: the bound a, any unit, not negative.

    Raises:
        InputError: the bound is negative or not finite.

    >>> round(rectangular(0.02), 5)
    0.01155
    """
    return _bound(half_width) / math.sqrt(3.0)


def triangular(half_width: float) -> float:
    """Return the standard uncertainty of a value within +-half_width, likeliest in the middle.

    a / sqrt(6): GUM 4.3.9.

    Args:
        half_width: the bound a, any unit, not negative.

    Raises:
        InputError: the bound is negative or not finite.
    """
    return _bound(half_width) / math.sqrt(6.0)


def arcsine(half_width: float) -> float:
    """Return the standard uncertainty of a value that swings as a sine within +-half_width.

    a / sqrt(2): the U-shaped distribution of GUM H.1.3.4.

    Args:
        half_width: the amplitude a, any unit, not negative.

    Raises:
        InputError: the amplitude is negative or not finite.
    """
    return _bound(half_width) / math.sqrt(2.0)


def resolution(step: float) -> float:
    """Return the standard uncertainty that a digital step leaves in one indication.

    step / sqrt(12): GUM F.2.2.1; the value lies within half a step either way.

    Args:
        step: the digital step, any unit, not negative.

    Raises:
        InputError: the step is negative or not finite.
    """
    return rectangular(step / 2.0)


def stated(expanded_u: float, k: float) -> float:
    """Return the standard uncertainty behind an expanded uncertainty on a certificate.

    U / k: GUM 4.3.3.

    Args:
        expanded_u: the expanded uncertainty U, any unit, not negative.
        k: the coverage factor it was stated with, above zero.

    Raises:
        InputError: U is negative, k is not above zero, or either is not finite.
    """
    if not (math.isfinite(k) and k > 0.0):
        raise InputError(
            f"A coverage factor of {k:g} is not possible.",
            hint="State the k of the certificate, usually 2.",
        )
    return _bound(expanded_u) / k


def _bound(value: float) -> float:
    if not (math.isfinite(value) and value >= 0.0):
        raise InputError(
            f"An uncertainty bound of {value:g} is not possible.",
            hint="State it as a number that is zero or more.",
        )
    return value
