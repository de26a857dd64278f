"""The generalized extreme studentized deviate test for several outlying values.

B. Rosner, Technometrics 25 (1983) 165-172; NIST/SEMATECH e-Handbook of
Statistical Methods, 1.3.5.17.3. The most extreme value is taken out, then the
most extreme of the rest, up to a limit set beforehand. The number of outliers is
the *largest* i whose statistic exceeds its critical value. Stopping at the first
that does not would miss outliers that hide one another: two far values widen s
until neither stands out alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from gaugelink.statistics.grubbs import grubbs_critical, most_extreme


@dataclass(frozen=True, slots=True, kw_only=True)
class EsdStep:
    """One value taken out: position in the sample, R_i and lambda_i."""

    index: int
    value: float
    statistic: float
    critical_value: float

    @property
    def exceeds(self) -> bool:
        """Whether R_i > lambda_i."""
        return self.statistic > self.critical_value


EsdSteps: TypeAlias = tuple[EsdStep, ...]


def esd_steps(values: Sequence[float], max_outliers: int, alpha: float) -> EsdSteps:
    """Take the most extreme values out one by one, with R_i and lambda_i for each.

    lambda_i equals the two-sided Grubbs critical value of the n - i + 1 values
    still in at step i. Rosner's approximation is very good for n >= 25 and
    reasonable for n >= 15.

    Args:
        values: finite numbers in one unit.
        max_outliers: upper bound r on the number of outliers, set beforehand.
        alpha: significance level, 0 < alpha < 1.

    Returns:
        At most ``max_outliers`` steps; fewer when the values that remain are all
        equal or fewer than three.
    """
    remaining = list(range(len(values)))
    steps: list[EsdStep] = []
    while len(steps) < max_outliers:
        suspect = most_extreme([values[i] for i in remaining])
        if suspect is None:
            break
        critical_value = grubbs_critical(len(remaining), alpha)
        steps.append(
            EsdStep(
                index=remaining.pop(suspect.index),
                value=suspect.value,
                statistic=suspect.statistic,
                critical_value=critical_value,
            )
        )
    return tuple(steps)


def significant_groups(steps: EsdSteps) -> Iterator[EsdSteps]:
    """Yield each leading group of steps whose last one exceeds, the largest group first."""
    for size in range(len(steps), 0, -1):
        if steps[size - 1].exceeds:
            yield steps[:size]


def esd_outliers(values: Sequence[float], max_outliers: int, alpha: float) -> EsdSteps:
    """Find the outliers by the generalized ESD test, most extreme first.

    Args:
        values: finite numbers in one unit.
        max_outliers: upper bound r on the number of outliers, set beforehand.
        alpha: two-sided significance level, 0 < alpha < 1.

    Returns:
        The steps 1 to k, where k is the largest i with R_i > lambda_i; empty when
        there is none.

    >>> [step.value for step in esd_outliers([1.0, 2.0, 3.0, 2.0, 2.0, 1.0, 90.0, 91.0], 2, 0.05)]
    [91.0, 90.0]
    """
    return next(significant_groups(esd_steps(values, max_outliers, alpha)), ())
