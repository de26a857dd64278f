"""Grubbs' test for one outlying value in a normal sample.

F. E. Grubbs, Technometrics 11 (1969) 1-21; NIST/SEMATECH e-Handbook of
Statistical Methods, 1.3.5.17.1. The critical value is computed, not tabulated:
public copies of the tables carry misprints, and the formula is exact to the
digits of the tables.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

from gaugelink.statistics.moments import mean, std
from gaugelink.statistics.side import Side
from gaugelink.statistics.student import t_quantile
from gaugelink.statistics.suspects import Suspect

FEWEST_VALUES = 3


def most_extreme(values: Sequence[float], side: Side = Side.EITHER) -> Suspect | None:
    """Find the value farthest from the mean and its Grubbs statistic, a pure number.

    G = abs(value - mean) / s. Of two values equally far the larger is taken, so that
    the choice does not depend on the order of the values.

    Args:
        values: finite numbers in one unit.
        side: on which side of the mean to look.

    Returns:
        The suspect, or None when there are fewer than three values or s is 0.

    >>> most_extreme([10.0, 10.0, 10.0, 10.0, 11.0]).index
    4
    """
    if len(values) < FEWEST_VALUES:
        return None
    spread = std(values)
    if spread == 0.0:
        return None
    centre = mean(values)
    index = max(range(len(values)), key=lambda i: (side.beyond(values[i] - centre), values[i]))
    far = side.beyond(values[index] - centre)
    return Suspect(index=index, value=values[index], statistic=far / spread)


@lru_cache(maxsize=1024)
def grubbs_critical(n: int, alpha: float, *, two_sided: bool = True) -> float:
    """Compute the critical value of Grubbs' statistic, a pure number.

    (n - 1)/sqrt(n) * sqrt(t^2 / (n - 2 + t^2)), where t is the quantile of
    Student's distribution with n - 2 degrees of freedom that leaves alpha/(2n) in
    the tail (two-sided) or alpha/n (one-sided). ISO 5725-2 tabulates the two-sided
    values, ASTM E178 the one-sided ones.

    Args:
        n: number of values, 3 or more.
        alpha: significance level, 0 < alpha < 1.
        two_sided: whether the suspect may lie at either end.

    Returns:
        The value that G must exceed.

    Raises:
        ValueError: n is below 3 or alpha is not between 0 and 1.

    >>> round(grubbs_critical(8, 0.05, two_sided=False), 3)
    2.032
    """
    if n < FEWEST_VALUES:
        raise ValueError(f"Grubbs' test needs {FEWEST_VALUES} values, not {n}")
    if not 0.0 < alpha < 1.0:
        raise ValueError(f"a significance level between 0 and 1 is needed, not {alpha}")
    tail = alpha / (2 * n if two_sided else n)
    t_squared = t_quantile(tail, n - 2) ** 2
    return (n - 1) / math.sqrt(n) * math.sqrt(t_squared / (n - 2 + t_squared))
