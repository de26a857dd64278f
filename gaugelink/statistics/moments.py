"""What every test of readings rests on: mean and scatter, display steps, the side of an error.

``math.fsum`` adds without rounding on the way, and the second pass takes out
what the rounding of the first mean left over. The textbook one-pass formula
(sum of squares minus square of the sum) returns 0 for readings such as
10000000.1 and 10000000.3.

A display step is the grain below which readings say nothing: with n - 1 equal readings
and one that differs, Grubbs' statistic exceeds its 1 % critical value for every n >= 4,
even when the difference is a single digit. So each verdict of this stage also asks how
many display steps a difference is.

A settled reading may err either way: dirt under a jaw lifts it, a pressed jaw lowers
it. The reading of a sweep errs to one side. The largest reading of a rocked bore is
short whenever the jaws were not across the diameter or not square to the axis, and
hardly ever too long: nothing inside a barrel lets the jaws open past its wall. The
smallest reading of a swept arbor is too long in the same way. So in a bore a low reading
is to be suspected, and a high one is most likely the only one that found the diameter. The
mean of such readings still leans to the short side by what the sweeps missed; no test of
single readings takes that away.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from enum import StrEnum

from gaugelink.model import Seek


def mean(values: Sequence[float]) -> float:
    """Return the arithmetic mean, in the unit of the values.

    Equal values give exactly that value, which ``fsum(values) / n`` does not.

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


GUARD_STEPS = 3


def in_steps(length_mm: float, resolution_mm: float) -> float:
    """Express a length as a number of display steps.

    Rounded to a millionth of a step: 12.03 - 12.00 counts as three steps of
    0.01 mm although the binary fractions differ by a little more or less.

    >>> in_steps(12.03 - 12.00, 0.01)
    3.0
    """
    return round(length_mm / resolution_mm, 6)


def displayed_mm(length_mm: float, resolution_mm: float) -> str:
    """Write a length in mm with as many decimals as the display step has.

    A step of 0.0127 mm (half a thousandth of an inch) counts as 0.01 mm.

    >>> displayed_mm(11.0234, 0.01)
    '11.02 mm'
    """
    decimals = max(0, -math.floor(math.log10(resolution_mm) + 1e-9))
    return f"{length_mm:.{decimals}f} mm"


class Side(StrEnum):
    """Where the wrong readings of a series are to be expected."""

    EITHER = "either"
    LOW = "low"
    HIGH = "high"

    def beyond(self, difference: float) -> float:
        """Return how far a difference from the centre points to this side.

        Returns:
            The distance in the same unit; negative on the other side.

        >>> Side.LOW.beyond(-0.03), Side.EITHER.beyond(-0.03)
        (0.03, 0.03)
        """
        if self is Side.EITHER:
            return abs(difference)
        return difference if self is Side.HIGH else -difference


WRONG_SIDES = {  # where a reading lies that was not sought well
    Seek.SETTLED: Side.EITHER,
    Seek.MAXIMUM: Side.LOW,
    Seek.MINIMUM: Side.HIGH,
}
