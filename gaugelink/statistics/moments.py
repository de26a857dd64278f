"""Mean and standard deviation that do not depend on the order of the readings.

``math.fsum`` adds without rounding on the way, and the second pass takes out
what the rounding of the first mean left over. The textbook one-pass formula
(sum of squares minus square of the sum) returns 0 for readings such as
10000000.1 and 10000000.3.
"""

from __future__ import annotations

import math
from collections.abc import Sequence


def mean(values: Sequence[float]) -> float:
    """Return the arithmetic mean, in the unit of the values.

    Equal values give exactly that value, which ``fsum(values) / n`` does not.

    Args:
        values: one or more finite numbers.

    Returns:
        Sum over n.

    Raises:
        ValueError: there are no values.

    >>> mean([12.34, 12.36, 12.35])
    12.35
    """
    if not values:
        raise ValueError("the mean of no values is not defined")
    first = math.fsum(values) / len(values)
    return first + math.fsum(x - first for x in values) / len(values)


def std(values: Sequence[float]) -> float:
    """Return the experimental standard deviation s, in the unit of the values.

    s^2 = sum (x_i - mean)^2 / (n - 1), JCGM 100:2008, 4.2.2.

    Args:
        values: two or more finite numbers.

    Returns:
        s; 0.0 when all values are equal.

    Raises:
        ValueError: fewer than two values.

    >>> std([10000001.0, 10000003.0, 10000002.0])
    1.0
    """
    n = len(values)
    if n < 2:
        raise ValueError("a standard deviation needs two values")
    centre = mean(values)
    deviations = [x - centre for x in values]
    residue = math.fsum(deviations)
    squares = math.fsum(d * d for d in deviations) - residue * residue / n
    return math.sqrt(max(squares, 0.0) / (n - 1))
