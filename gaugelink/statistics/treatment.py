"""The default treatment of suspicious readings: when to mark, when to reject, when to ask.

* 1 to 4 readings: nothing is ever rejected; a wide spread asks for two more.
* 5 to 14 readings: one two-sided Grubbs test; at most one reading is rejected.
* 15 readings and more: generalized ESD for at most a fifth of them, never over ten.

Significance 0.05 marks a reading and keeps it, 0.01 rejects it: the stragglers
and outliers of ISO 5725-2. In either case the reading must also lie at least
three display steps from the mean of the rest; below that even a one-digit
difference passes the test whenever the other readings are equal.

Two suspects among 5 to 14 readings, or a visible drift, reject nothing: no
single-reading test applies, and the advice is to measure again.

Three or four readings have next to no power (G of three readings cannot exceed
1.1547, against a limit of 1.1543), hence only the spread is looked at. Its limit
is three display steps or 0.005 mm, whichever is larger. A caliper of 0.01 mm
step repeats to about one step, so that three steps, 0.03 mm, are the scatter of a
steady hand. A micrometer of 0.001 mm step is finer than the hand that turns it:
its limit is 0.005 mm, half the 0.01 mm between stock thicknesses of mainsprings
(common practice), below which the spread does not change the choice of spring.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gaugelink.model import Advice, OutlierMark
from gaugelink.statistics import wording
from gaugelink.statistics.drift import drift_mm
from gaugelink.statistics.esd import EsdSteps, esd_steps
from gaugelink.statistics.moments import mean
from gaugelink.statistics.steps import GUARD_STEPS, in_steps
from gaugelink.statistics.suspects import significant_groups
from gaugelink.statistics.wording import Outcome

MARK_ALPHA = 0.05
REJECT_ALPHA = 0.01
FEWEST_TESTED = 5
FEWEST_FOR_ESD = 15
MOST_OUTLIERS = 10
HAND_SPREAD_MM = 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class Treatment:
    """Marks in the order of the readings, and advice for the person."""

    marks: tuple[OutlierMark, ...] = ()
    advice: tuple[Advice, ...] = ()

    @property
    def rejected(self) -> frozenset[int]:
        """Positions of the readings that do not count."""
        return frozenset(mark.index for mark in self.marks if mark.rejected)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sample:
    values_mm: tuple[float, ...]
    resolution_mm: float

    @property
    def n(self) -> int:
        return len(self.values_mm)

    def rest_mean_mm(self, group: EsdSteps) -> float:
        apart = {step.index for step in group}
        return mean([x for i, x in enumerate(self.values_mm) if i not in apart])


def treat(values_mm: Sequence[float], resolution_mm: float) -> Treatment:
    """Judge the readings of one measurand, in mm, by the rules of this module.

    A mark carries the statistic and the critical value that decided. For a group
    found by generalized ESD these are R and lambda of its last member, since
    inside a group the earlier ones may hide one another.

    Args:
        values_mm: finite readings in the order they were taken.
        resolution_mm: display step, > 0.

    Returns:
        The marks and advice; at least four readings are left whenever one is
        rejected.

    >>> treat([12.01, 12.00, 12.01, 12.02, 12.01, 12.90], 0.01).rejected
    frozenset({5})
    """
    sample = _Sample(values_mm=tuple(values_mm), resolution_mm=resolution_mm)
    if sample.n < FEWEST_TESTED:
        return Treatment(advice=_spread_advice(sample))
    suspects = _standing_apart(sample, _most_suspects(sample.n), MARK_ALPHA)
    pair = suspects if sample.n < FEWEST_FOR_ESD and len(suspects) > 1 else ()
    drift = drift_mm(sample.values_mm, resolution_mm)
    if drift is not None:
        marks = _marks(sample, suspects, MARK_ALPHA, Outcome.DRIFTING)
    elif pair:
        marks = _marks(sample, pair, MARK_ALPHA, Outcome.PAIR)
    else:
        marks = _rejected_and_kept(sample, suspects)
    return Treatment(
        marks=tuple(sorted(marks, key=lambda mark: mark.index)),
        advice=_remeasure_advice(sample, drift, pair),
    )


def _remeasure_advice(sample: _Sample, drift: float | None, pair: EsdSteps) -> tuple[Advice, ...]:
    advice: list[Advice] = []
    if drift is not None:
        advice.append(wording.drift(drift, sample.resolution_mm))
    if pair:
        advice.append(wording.two_suspects([step.index for step in pair], sample.n))
    return tuple(advice)


def _spread_advice(sample: _Sample) -> tuple[Advice, ...]:
    limit_mm = max(GUARD_STEPS * sample.resolution_mm, HAND_SPREAD_MM)
    spread_mm = max(sample.values_mm, default=0.0) - min(sample.values_mm, default=0.0)
    excess_mm = spread_mm - limit_mm
    if in_steps(excess_mm, sample.resolution_mm) <= 0.0:
        return ()
    return (wording.spread_wide(sample.n, spread_mm, limit_mm, sample.resolution_mm),)


def _most_suspects(n: int) -> int:
    return 2 if n < FEWEST_FOR_ESD else min(n // 5, MOST_OUTLIERS)


def _rejected_and_kept(sample: _Sample, suspects: EsdSteps) -> list[OutlierMark]:
    most_rejected = 1 if sample.n < FEWEST_FOR_ESD else _most_suspects(sample.n)
    outliers = _standing_apart(sample, most_rejected, REJECT_ALPHA)
    rejected = _marks(sample, outliers, REJECT_ALPHA, Outcome.LEFT_OUT)
    kept = _marks(sample, suspects, MARK_ALPHA, Outcome.UNUSUAL)
    return rejected + kept[len(rejected) :]


def _standing_apart(sample: _Sample, most: int, alpha: float) -> EsdSteps:
    """Find the largest significant group whose members all pass the display-step guard.

    With ``most`` = 1 this is the two-sided Grubbs test.
    """
    groups = significant_groups(esd_steps(sample.values_mm, most, alpha))
    return next((group for group in groups if _beyond_guard(sample, group)), ())


def _beyond_guard(sample: _Sample, group: EsdSteps) -> bool:
    centre_mm = sample.rest_mean_mm(group)
    return all(
        in_steps(abs(step.value - centre_mm), sample.resolution_mm) >= GUARD_STEPS for step in group
    )


def _marks(sample: _Sample, group: EsdSteps, alpha: float, outcome: Outcome) -> list[OutlierMark]:
    if not group:
        return []
    single = len(group) == 1 and sample.n < FEWEST_FOR_ESD
    rest_mean_mm = sample.rest_mean_mm(group)
    return [
        OutlierMark(
            index=step.index,
            value_mm=step.value,
            test="grubbs-two-sided" if single else "generalized-esd",
            statistic=group[-1].statistic,
            critical_value=group[-1].critical_value,
            alpha=alpha,
            rejected=outcome is Outcome.LEFT_OUT,
            reason=wording.mark_reason(
                index=step.index,
                value_mm=step.value,
                rest_mean_mm=rest_mean_mm,
                n_rest=sample.n - len(group),
                resolution_mm=sample.resolution_mm,
                alpha=alpha,
                outcome=outcome,
            ),
        )
        for step in group
    ]
