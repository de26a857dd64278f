"""A look at a series while the gauge is still in the hand: would more readings help?

It is asked once, when the planned readings are complete, and the number is then settled:
see ``statistics.enough`` for why looking again after each reading would spoil the
interval. For the same reason the answer depends on the scatter alone, never on the mean.

More readings narrow what scatter leaves open, and nothing else. They are asked for only
where they narrow the whole by a tenth or more: scatter, gauge, and what the choice of a
spring cannot feel anyway, since springs are stocked in steps.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from gaugelink.assembly.measured import form_evidence, slip_seen
from gaugelink.assembly.parts import summarised
from gaugelink.capture.plan import Plan, Step
from gaugelink.capture.progress import Review
from gaugelink.gauge_record import GaugeRecord
from gaugelink.model import GaugeInfo, Series, Summary
from gaugelink.statistics.enough import MoreReadings, more_readings
from gaugelink.statistics.student import t_quantile
from gaugelink.statistics.summary import summarise
from gaugelink.uncertainty import estimate
from gaugelink.uncertainty.estimate import Term
from gaugelink.uncertainty.gauge_error import ZeroCheck
from gaugelink.uncertainty.measurand_model import (
    ARBOR,
    BORE,
    Found,
    form_found_mm,
    measured_quantity,
    used_readings_mm,
)

WORTH = 0.1  # of the interval: common practice
_NO_SERIES = frozenset({"drift", "two_suspects"})
_MOST_BETWEEN = 4  # places between the five that a bore is read at
_UPPER = 0.975  # all at a coverage of 95 %
# Steps in which springs are stocked, the fine ones of small sizes: common practice. What
# ends in the height, or in the thickness, need not be known much better.
STOCK_STEP_MM: Mapping[str, float] = {
    "depth": 0.05,
    "lid": 0.05,
    "recess": 0.05,
    "found_height": 0.05,
    "found_thickness": 0.005,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class JobInHand:
    """What is known while a job is measured.

    Args:
        plan: its steps.
        gauges: the gauges of this sitting.
        records: what is known of them, by identity.
    """

    plan: Plan
    gauges: tuple[GaugeInfo, ...]
    records: Mapping[str, GaugeRecord] = field(default_factory=dict)

    def step(self, measurand: str) -> Step:
        """Return the step of a measurand."""
        return next(step for step in self.plan.steps if step.measurand == measurand)

    def summary(self, series: Series, step: Step) -> Summary:
        """Summarise the readings of a step as the finished job will."""
        known = self.records.get(series.gauge_id)
        return summarised(series, self._gauge(series), step.seek, known=known)

    def found(self, series: Series, summary: Summary) -> Found:
        """Return what is found out so far, with the zero after that is still to come."""
        gauge = self._gauge(series)
        return Found(
            summary=summary,
            used_mm=used_readings_mm([r.value_mm for r in series.readings], summary),
            gauge=gauge,
            zero=ZeroCheck(before_mm=0.0, after_mm=0.0, resolution_mm=summary.resolution_mm),
            record=self.records.get(gauge.gauge_id),
            depth_reference=self.plan.depth_reference,
        )

    def _gauge(self, series: Series) -> GaugeInfo:
        return next(info for info in self.gauges if info.gauge_id == series.gauge_id)


def review_series(series: Series, job: JobInHand | None = None) -> Review | None:
    """Look at a completed series; ask once for more readings, or say that they do not help.

    Three or four readings that lie too far apart are asked for two more, so that an
    outlier test can judge them.

    Args:
        series: the readings that stand.
        job: what is known of the job; without it only the spread is looked at.

    Returns:
        None where nothing is to be said.
    """
    if job is None:
        return _spread(summarise(series))
    step = job.step(series.measurand)
    if len(series.readings) > step.n_wanted:
        return None  # the number was settled by the planned ones
    summary = job.summary(series, step)
    found = job.found(series, summary)
    again = _measure_again(summary)
    if again or not form_found_mm(found):
        return again or _spread(summary) or _scatter(found, step)
    return _form(found, step)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """What the scatter of n readings does to a size, with its dof, and all else; u in mm."""

    n: int
    scatter_mm: float
    dof: float
    rest_mm: float

    def half_width_mm(self, n_more: int = 0) -> float:
        """Return about what is left open at 95 %, now or with more readings that scatter alike."""
        t = t_quantile(_UPPER, self.dof + n_more)
        scatter_mm = t * self.scatter_mm * math.sqrt(self.n / (self.n + n_more))
        return math.hypot(scatter_mm, 2.0 * self.rest_mm)


def shares(found: Found) -> Shares:
    """Part the influences of a measurand's equation into its scatter and the rest.

    The rest is combined by the root sum of squares, GUM 5.1.2.
    """
    terms = measured_quantity(found).terms
    scatter = [term for term in terms if _is_scatter(term, found.summary.measurand)]
    rest = [term for term in terms if term not in scatter]
    return Shares(
        n=found.summary.n_used,
        scatter_mm=_combined_mm(scatter),
        dof=min((term.influence.dof for term in scatter), default=found.summary.dof),
        rest_mm=_combined_mm(rest),
    )


def _is_scatter(term: Term, measurand: str) -> bool:
    return term.influence.kind == "A" and term.influence.label.startswith(measurand)


def _combined_mm(terms: Sequence[Term]) -> float:
    return math.hypot(*(term.factor * term.influence.u for term in terms))


def _spread(summary: Summary) -> Review | None:
    wide = next((a for a in summary.advice if a.code == "spread_wide"), None)
    return Review(n_more=2, reason=wide.text) if wide else None


def _measure_again(summary: Summary) -> Review | None:
    """No number of readings helps a series that has to be measured again."""
    texts = [advice.text for advice in summary.advice if advice.code in _NO_SERIES]
    return Review(n_more=0, reason=" ".join(texts)) if texts else None


def _form(found: Found, step: Step) -> Review:
    """A part that is not round is read at other places, one reading that is alone where it was."""
    if slip := slip_seen(found):
        return Review(n_more=1, reason=f"{slip} Read that place once more.")
    said, remedy = _FORM_SAID[step.measurand]
    said = said.format(form_found_mm(found), form_evidence(found))
    more = _asked(found, step)
    if not more.n_more:
        return Review(n_more=0, reason=f"{said} Enough readings.")
    n_more = min(more.n_more, _MOST_BETWEEN) if step.measurand == BORE else 2
    return Review(n_more=n_more, reason=f"{said} {remedy.format(n_more)}")


_FORM_SAID: Mapping[str, tuple[str, str]] = {
    BORE: (
        "The bore may be out of round, by about {:.2f} mm: {}.",
        "Read it at {} more places, each halfway between two of those before; the same places "
        "again do not help.",
    ),
    ARBOR: (
        "The hub may not be round: {1}.",
        "Take {} more: its smallest width, and its largest.",
    ),
}


def _scatter(found: Found, step: Step) -> Review:
    more = _asked(found, step)
    return Review(n_more=more.n_more, reason=more.text)


def _asked(found: Found, step: Step) -> MoreReadings:
    """Ask for the readings that scatter calls for, where they are worth the while."""
    now = shares(found)
    more = more_readings(found.summary, now.rest_mm, n_planned=step.n_wanted)
    if not more.n_more:
        text = f"{more.text} Remaining uncertainty ±{2.0 * now.rest_mm:.2g} mm."
        return MoreReadings(n_more=0, text=text)
    before_mm, after_mm = now.half_width_mm(), now.half_width_mm(more.n_more)
    stock_mm = 2.0 * estimate.resolution(STOCK_STEP_MM.get(step.measurand, 0.0))
    if math.hypot(after_mm, stock_mm) <= (1.0 - WORTH) * math.hypot(before_mm, stock_mm):
        return more
    return MoreReadings(
        n_more=0,
        text=f"Enough readings: ±{before_mm:.2g} mm now, ±{after_mm:.2g} mm with "
        f"{more.n_more} more.",
    )
