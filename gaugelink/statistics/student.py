"""Student's t distribution and its quantile, for any positive degrees of freedom.

Up to ``_BETA_LIMIT`` degrees of freedom the probabilities come from the
regularised incomplete beta function and the quantile from Newton's method.
Above it the t distribution is so close to the normal that one term of Hill's
transformation is exact to double precision, at no cost that grows with dof.
Above ``_NORMAL_LIMIT`` even that correction is below the last digit.

Each half of the distribution is held as two parts, P(0 < T < t) and P(T > t),
and the smaller one is always computed directly: neither a far tail nor a
quantile near zero loses digits to a subtraction.

The regularised incomplete beta function, as a logarithm so that no tail underflows.

I_x(a, b) = x^a (1 - x)^b / (a B(a, b)) / (1 + d1/(1 + d2/(1 + ...))), DLMF 8.17.22.
"""

from __future__ import annotations

import itertools
import math
from functools import lru_cache
from statistics import NormalDist

_BETA_LIMIT = 1e4
_NORMAL_LIMIT = 1e20
_LOG_LARGEST = 345.0  # exp(345) = 1e150, whose square is still a float
_NORMAL = NormalDist()


def normal_quantile(p: float) -> float:
    """Return the quantile of the standard normal distribution, a pure number.

    Raises:
        ValueError: p is not between 0 and 1.

    >>> round(normal_quantile(0.975), 4)
    1.96
    """
    _check_probability(p)
    return _NORMAL.inv_cdf(p)


def t_cdf(t: float, dof: float) -> float:
    """Return P(T < t) for Student's t, a probability.

    P(T > t) = I_x(dof/2, 1/2) / 2 with x = dof / (dof + t^2) for t >= 0
    (DLMF 8.17; Abramowitz and Stegun 26.7.1).

    Args:
        t: any number, infinities included.
        dof: degrees of freedom, > 0; ``math.inf`` gives the normal distribution.

    Returns:
        The probability; its relative error stays below 1e-10 down to tails of 1e-50.

    Raises:
        ValueError: dof is not positive, or t is not a number.

    >>> t_cdf(1.0, 1.0)
    0.75
    """
    _check_dof(dof)
    if math.isnan(t):
        raise ValueError("t is not a number")
    central, tail = _halves(abs(t), dof)
    return tail if t < 0 else 0.5 + central


@lru_cache(maxsize=1024)
def t_quantile(p: float, dof: float) -> float:
    """Return the quantile of Student's t distribution, a pure number.

    For a two-sided coverage probability q, the factor of JCGM 100:2008, table G.2, is
    ``t_quantile((1 + q) / 2, dof)``. ``dof`` need not be whole; ``math.inf`` gives the normal
    quantile.

    Returns:
        t with P(T < t) = p; infinite beyond about 1e150, which needs dof < 0.1.

    Raises:
        ValueError: p is not between 0 and 1, or dof is not positive.

    >>> round(t_quantile(0.975, 4), 2)
    2.78
    """
    _check_probability(p)
    _check_dof(dof)
    if dof > _BETA_LIMIT:
        return _quantile_near_normal(p, dof)
    if p == 0.5:
        return 0.0
    return math.copysign(_quantile_size(p, dof), p - 0.5)


def _check_probability(p: float) -> None:
    if not 0.0 < p < 1.0:
        raise ValueError(f"a probability between 0 and 1 is needed, not {p}")


def _check_dof(dof: float) -> None:
    if not dof > 0.0:
        raise ValueError(f"degrees of freedom must be positive, not {dof}")


def _halves(t: float, dof: float) -> tuple[float, float]:
    """Return P(0 < T < t) and P(T > t) for t >= 0."""
    if dof > _BETA_LIMIT:
        z = _normal_equivalent(t, dof) / math.sqrt(2.0)
        return 0.5 * math.erf(z), 0.5 * math.erfc(z)
    log_central, log_tail = _log_doubled_halves(t, dof)
    return 0.5 * math.exp(log_central), 0.5 * math.exp(log_tail)


def _log_doubled_halves(t: float, dof: float) -> tuple[float, float]:
    """Return the logarithms of P(abs(T) < t) and P(abs(T) > t) for t >= 0."""
    square = t * t
    if square * (dof + 2.0) < 3.0 * dof:  # where the fraction of the central part converges
        central = log_incomplete_beta(0.5, 0.5 * dof, square / (dof + square))
        return central, math.log1p(-math.exp(central))
    tail = log_incomplete_beta(0.5 * dof, 0.5, dof / (dof + square))
    return math.log1p(-math.exp(tail)), tail


def _quantile_size(p: float, dof: float) -> float:
    """Solve for abs(t) by Newton's method, from the smaller of the two parts.

    The curve is ln(part) against ln(t). It is concave for either part, and the
    normal quantile is never above the root, so the iteration is monotone after
    its first step and needs no bracket.
    """
    parts = abs(p - 0.5), min(p, 1.0 - p)
    side = 0 if parts[0] < parts[1] else 1
    log_target = math.log(2.0 * parts[side])
    log_t = math.log(abs(normal_quantile(p)))
    for _ in range(100):
        log_part = _log_doubled_halves(math.exp(log_t), dof)[side]
        slope = 2.0 * math.exp(log_t + _log_density(math.exp(log_t), dof) - log_part)
        change = (log_part - log_target) / (slope if side == 0 else -slope)
        log_t -= change
        if log_t > _LOG_LARGEST:
            return math.inf
        if abs(change) < 1e-12:
            break
    return math.exp(log_t)


def _log_density(t: float, dof: float) -> float:
    log_kernel = -0.5 * (dof + 1.0) * math.log1p(t * t / dof)
    return log_kernel - log_beta(0.5 * dof, 0.5) - 0.5 * math.log(dof)


def _normal_equivalent(t: float, dof: float) -> float:
    """Return the normal deviate with the probability of t, for large dof.

    First correction of G. W. Hill, Algorithm 395, CACM 13 (1970) 617; the next
    one is of the order of z^7 / dof^4.
    """
    if dof > _NORMAL_LIMIT:
        return t
    a = dof - 0.5
    y = math.sqrt(a * math.log1p(t * t / dof))
    return y + (y**3 + 3.0 * y) / (48.0 * a * a)


def _quantile_near_normal(p: float, dof: float) -> float:
    """Invert ``_normal_equivalent``."""
    z = normal_quantile(p)
    if dof > _NORMAL_LIMIT:
        return z
    a = dof - 0.5
    y = z - (z**3 + 3.0 * z) / (48.0 * a * a)
    return math.copysign(math.sqrt(dof * math.expm1(y * y / a)), z)


def log_beta(a: float, b: float) -> float:
    """Compute ln B(a, b) of two positive numbers, a pure number.

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
