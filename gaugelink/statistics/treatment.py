"""The treatment of suspicious readings: when to mark, when to reject, when to ask.

* 1 to 4 readings: nothing is ever rejected; a wide spread asks for two more.
* 5 readings and more: the chosen test (``outlier_method``), by default two-sided
  Grubbs for one of up to 14 and generalized ESD for at most a fifth from 15 on.

Significance 0.05 marks a reading and keeps it, 0.01 rejects it: the stragglers
and outliers of ISO 5725-2. Whatever the test, the reading must also lie at least
three display steps from the mean of the rest; below that even a one-digit
difference passes the test whenever the other readings are equal.

More suspects than may be rejected (two of 5 to 14), or a visible drift, reject
nothing: no test of single readings applies, and the advice is to measure again.

That is as far as the readings themselves can tell. A gauge that is known to repeat tells
more (``known_scatter``): where the rest of 5 readings or more keeps to the known scatter,
all readings that lie far outside it are left out, two or more together as well, as long
as enough are left. Known is one display step, since gauges are given
the step that they repeat to, and no less than the hand repeats to. They must lie as far outside
what the rest and the other series of the job show: whatever a clean hand scatters, one series in
a hundred loses a reading, over both tests together.

A series that was sought by sweeping has a wrong side (``side``). Marks stay
two-sided, but only readings on that side are rejected, by the one-sided test; on the
other side a reading is marked and kept, since it may be the only one that found the
true size.

A rejection that holds at 0.01 but not at 0.001 is called *doubtful*: one clean series
in a hundred brings one about, and ``summary`` allows for it in the uncertainty.

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
from enum import StrEnum
from typing import NamedTuple

from gaugelink.model import Advice, OutlierMark
from gaugelink.statistics.drift import drift_mm
from gaugelink.statistics.known_scatter import (
    ALPHA,
    NONE_SHOWN,
    ShownScatter,
    apart_from_known,
    test_name,
)
from gaugelink.statistics.moments import GUARD_STEPS, Side, displayed_mm, in_steps, mean
from gaugelink.statistics.outlier_method import (
    Judged,
    JudgedSuspect,
    OutlierMethod,
    significant_groups,
)

MARK_ALPHA = 0.05
REJECT_ALPHA = 0.01
CERTAIN_ALPHA = 0.001
FEWEST_TESTED = 5
HAND_SPREAD_MM = 0.005
# The standard deviation of which three readings seldom spread wider: 0.005 mm / f(3) of
# ISO 5725-6, 3.3.
HAND_SCATTER_MM = 0.0015


class MarkOutcome(StrEnum):
    """What became of a marked reading, as the end of its sentence."""

    LEFT_OUT = "so it is left out"
    BY_GAUGE = "given what the gauge repeats to, so it is left out"
    IN_DOUBT = "so it is left out and the uncertainty allows for the doubt"
    UNUSUAL = "which is not rare enough to leave it out"
    DRIFTING = "but the readings drift, so it is kept"
    PAIR = "but another reading lies apart too, so it is kept"
    OTHER_SIDE = "but a sweep hardly ever errs on that side, so it is kept"

    @property
    def rejects(self) -> bool:
        """Whether the reading does not count."""
        return self in (MarkOutcome.LEFT_OUT, MarkOutcome.BY_GAUGE, MarkOutcome.IN_DOUBT)


class Treatment(NamedTuple):
    """Marks in the order of the readings, advice, and whether the rejection is doubtful."""

    marks: tuple[OutlierMark, ...] = ()
    advice: tuple[Advice, ...] = ()
    doubtful: bool = False

    @property
    def rejected(self) -> frozenset[int]:
        """Positions of the readings that do not count."""
        return frozenset(mark.index for mark in self.marks if mark.rejected)


class _Sample(NamedTuple):
    values_mm: tuple[float, ...]
    resolution_mm: float
    method: OutlierMethod
    side: Side
    scatter_mm: float

    @property
    def n(self) -> int:
        return len(self.values_mm)

    def rest_mean_mm(self, group: Judged) -> float:
        apart = {step.index for step in group}
        return mean([x for i, x in enumerate(self.values_mm) if i not in apart])


def treat(
    values_mm: Sequence[float],
    resolution_mm: float,
    *,
    method: OutlierMethod = OutlierMethod.GRUBBS,
    side: Side = Side.EITHER,
    scatter_mm: float | None = None,
    others: ShownScatter = NONE_SHOWN,
) -> Treatment:
    """Judge the readings of one measurand, in mm, by the rules of this module.

    A mark carries the figures that decided. For a group found by generalized ESD these
    are R and lambda of its last member: earlier ones may hide one another.

    Args:
        values_mm: finite readings in the order they were taken.
        resolution_mm: display step, > 0.
        method: the test; ``NONE`` marks and rejects nothing.
        side: where a wrong reading is to be expected.
        scatter_mm: what the gauge is known to repeat to, a standard deviation; the
            display step and ``HAND_SCATTER_MM`` are the least, and None takes them.
        others: what scatter other readings of the same hand show, in mm.

    Returns:
        The marks and advice; whenever one is rejected, three readings or more are left.

    Raises:
        StatisticsError: more readings than the test takes.

    >>> treat([12.01, 12.00, 12.01, 12.02, 12.01, 12.90], 0.01).rejected
    frozenset({5})
    """
    sample = _Sample(
        values_mm=tuple(values_mm),
        resolution_mm=resolution_mm,
        method=method,
        side=side,
        scatter_mm=max(scatter_mm or 0.0, resolution_mm, HAND_SCATTER_MM),
    )
    if sample.n < FEWEST_TESTED:
        return Treatment(advice=_spread_advice(sample))
    drift = drift_mm(sample.values_mm, resolution_mm)
    by_test = _by_test(sample, drift)
    if drift is not None or method is OutlierMethod.NONE:
        return by_test
    known = apart_from_known(sample.values_mm, sample.scatter_mm, side, resolution_mm, others)
    return _by_known_scatter(sample, known) if _settles(known, by_test) else by_test


def _settles(known: Judged, by_test: Treatment) -> bool:
    """Whether what is known of the gauge tells more than the readings by themselves."""
    apart = {step.index for step in known}
    return apart > by_test.rejected or (by_test.doubtful and apart == by_test.rejected)


def _by_known_scatter(sample: _Sample, known: Judged) -> Treatment:
    marks = [_mark(sample, step, known, ALPHA, MarkOutcome.BY_GAUGE) for step in known]
    return Treatment(marks=_in_order(marks))


def _by_test(sample: _Sample, drift: float | None) -> Treatment:
    method = sample.method
    suspects = _standing_apart(sample, method.most_suspects(sample.n), MARK_ALPHA, Side.EITHER)
    pair = suspects if len(suspects) > method.most_rejected(sample.n) else ()
    if drift is None and not pair:
        return _rejected_and_kept(sample, suspects)
    outcome = MarkOutcome.PAIR if drift is None else MarkOutcome.DRIFTING
    marks = [_mark(sample, step, suspects, MARK_ALPHA, outcome) for step in suspects]
    return Treatment(marks=_in_order(marks), advice=_remeasure_advice(sample, drift, pair))


def _in_order(marks: Sequence[OutlierMark]) -> tuple[OutlierMark, ...]:
    return tuple(sorted(marks, key=lambda mark: mark.index))


def _remeasure_advice(sample: _Sample, drift: float | None, pair: Judged) -> tuple[Advice, ...]:
    advice: list[Advice] = []
    if drift is not None:
        advice.append(_drift_advice(drift, sample.resolution_mm))
    if pair:
        advice.append(_two_suspects([step.index for step in pair], sample.n))
    return tuple(advice)


def _spread_advice(sample: _Sample) -> tuple[Advice, ...]:
    limit_mm = max(GUARD_STEPS * sample.resolution_mm, HAND_SPREAD_MM)
    spread_mm = max(sample.values_mm, default=0.0) - min(sample.values_mm, default=0.0)
    excess_mm = spread_mm - limit_mm
    if in_steps(excess_mm, sample.resolution_mm) <= 0.0:
        return ()
    return (_spread_wide(sample.n, spread_mm, limit_mm, sample.resolution_mm),)


def _rejected_and_kept(sample: _Sample, suspects: Judged) -> Treatment:
    most = sample.method.most_rejected(sample.n)
    outliers = _standing_apart(sample, most, REJECT_ALPHA, sample.side)
    certain = _standing_apart(sample, most, CERTAIN_ALPHA, sample.side) if outliers else ()
    apart = {step.index for step in outliers}
    doubtful = apart != {step.index for step in certain}
    outcome = MarkOutcome.IN_DOUBT if doubtful else MarkOutcome.LEFT_OUT
    rejected = [_mark(sample, step, outliers, REJECT_ALPHA, outcome) for step in outliers]
    kept = [
        _mark(sample, step, suspects, MARK_ALPHA, _why_kept(sample, step))
        for step in suspects
        if step.index not in apart
    ]
    return Treatment(marks=_in_order(rejected + kept), doubtful=doubtful)


def _why_kept(sample: _Sample, step: JudgedSuspect) -> MarkOutcome:
    wrong_side = sample.side.beyond(step.value - mean(sample.values_mm)) > 0.0
    return MarkOutcome.UNUSUAL if wrong_side else MarkOutcome.OTHER_SIDE


def _standing_apart(sample: _Sample, most: int, alpha: float, side: Side) -> Judged:
    """Find the largest significant group whose members all pass the display-step guard."""
    if most == 0:
        return ()
    groups = significant_groups(sample.method.steps(sample.values_mm, most, alpha, side))
    return next((group for group in groups if _beyond_guard(sample, group)), ())


def _beyond_guard(sample: _Sample, group: Judged) -> bool:
    centre_mm = sample.rest_mean_mm(group)
    return all(
        in_steps(abs(step.value - centre_mm), sample.resolution_mm) >= GUARD_STEPS for step in group
    )


def _mark(
    sample: _Sample, step: JudgedSuspect, group: Judged, alpha: float, outcome: MarkOutcome
) -> OutlierMark:
    """Mark one reading of a group that was found together, with the figures that decided."""
    by_gauge = outcome is MarkOutcome.BY_GAUGE
    figures = step if by_gauge else group[-1]
    side = sample.side if outcome.rejects else Side.EITHER
    test = test_name(side) if by_gauge else sample.method.test_name(sample.n, len(group), side)
    return OutlierMark(
        index=step.index,
        value_mm=step.value,
        test=test,
        statistic=figures.statistic,
        critical_value=figures.critical_value,
        alpha=alpha,
        rejected=outcome.rejects,
        reason=_mark_reason(
            index=step.index,
            value_mm=step.value,
            rest_mean_mm=sample.rest_mean_mm(group),
            n_rest=sample.n - len(group),
            resolution_mm=sample.resolution_mm,
            alpha=alpha,
            outcome=outcome,
        ),
    )


def _mark_reason(
    *,
    index: int,
    value_mm: float,
    rest_mean_mm: float,
    n_rest: int,
    resolution_mm: float,
    alpha: float,
    outcome: MarkOutcome,
) -> str:
    """Say in one sentence why a reading was marked and what became of it.

    Positions count from 0, for people from 1; the display step sets the decimals.
    """
    value = displayed_mm(value_mm, resolution_mm)
    gap = displayed_mm(abs(value_mm - rest_mean_mm), resolution_mm)
    side = "above" if value_mm > rest_mean_mm else "below"
    return (
        f"Reading {index + 1} ({value}) lies {gap} {side} the mean of the {n_rest} readings "
        f"that agree; by chance that happens in fewer than 1 series in {round(1 / alpha)}, "
        f"{outcome}."
    )


def _spread_wide(n: int, spread_mm: float, limit_mm: float, resolution_mm: float) -> Advice:
    return Advice(
        code="spread_wide",
        text=(
            f"The {n} readings spread over {displayed_mm(spread_mm, resolution_mm)}, more than "
            f"the {limit_mm:.4g} mm that gauge and hand account for; take two more readings."
        ),
    )


def _two_suspects(indices: Sequence[int], n: int) -> Advice:
    first, second = sorted(i + 1 for i in indices)
    return Advice(
        code="two_suspects",
        text=(
            f"Readings {first} and {second} of {n} both lie apart, too many to tell which are "
            "wrong; clean the faces and measure again."
        ),
    )


def _drift_advice(rise_mm: float, resolution_mm: float) -> Advice:
    """Advise on readings that creep one way; ``rise_mm`` is negative when they fall."""
    verb = "rise" if rise_mm > 0.0 else "fall"
    return Advice(
        code="drift",
        text=(
            f"The readings {verb} by about {displayed_mm(abs(rise_mm), resolution_mm)} from the "
            "first to the last; let part and gauge come to one temperature, check the zero and "
            "measure again."
        ),
    )
