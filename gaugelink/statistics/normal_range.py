"""How far apart the largest and the smallest of n normal readings lie.

P(W <= w) = n * integral of phi(x) [Phi(x + w) - Phi(x)]^(n - 1) dx for the range W of n
standard normal values (H. A. David and H. N. Nagaraja, Order Statistics, 3rd ed. 2003,
section 2.3, from memory). The quantile at 95 % is the factor f(n) of the critical range
of ISO 5725-6, 5.2.2.
"""

from __future__ import annotations

import math
from functools import lru_cache

_REACH = 8.5  # beyond, the normal density is below 1e-16
_PANELS = 340
_ROOT_2 = math.sqrt(2.0)


def range_cdf(w: float, n: int) -> float:
    """Return P(W <= w) for the range of n standard normal values, a probability.

    Args:
        w: range, in standard deviations; >= 0.
        n: number of values, 2 or more.

    >>> round(range_cdf(2.772, 2), 4)
    0.95
    """
    step = 2.0 * _REACH / _PANELS
    abscissas = (i * step - _REACH for i in range(_PANELS + 1))
    # The integrand and all its derivatives vanish at both ends: there the trapezoid
    # rule converges faster than any power of the step.
    return n * step * math.fsum(_density(x) * _between(x, x + w) ** (n - 1) for x in abscissas)


@lru_cache(maxsize=256)
def range_quantile(p: float, n: int) -> float:
    """Return w with P(W <= w) = p for the range of n standard normal values.

    Args:
        p: probability, 0 < p < 1.
        n: number of values, 2 or more.

    Raises:
        ValueError: n is below 2 or p is not between 0 and 1.

    >>> [round(range_quantile(0.95, n), 1) for n in (2, 3, 4, 5)]  # ISO 5725-6
    [2.8, 3.3, 3.6, 3.9]
    """
    if n < 2 or not 0.0 < p < 1.0:
        raise ValueError(f"no range has a quantile at {p} of {n} values")
    low, high = 0.0, 2.0 * _REACH
    while high - low > 1e-9:
        middle = (low + high) / 2.0
        low, high = (middle, high) if range_cdf(middle, n) < p else (low, middle)
    return (low + high) / 2.0


def _density(x: float) -> float:
    return math.exp(-x * x / 2.0) / math.sqrt(2.0 * math.pi)


def _between(low: float, high: float) -> float:
    return (math.erf(high / _ROOT_2) - math.erf(low / _ROOT_2)) / 2.0
