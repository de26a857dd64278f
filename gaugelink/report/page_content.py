"""What a page is made from: a job with all that is known of it, and the spring it goes by.

That spring is the one the page draws, follows through a day, and has checked: what was fitted,
before that what is to be taken or ordered.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar

from gaugelink.assembly.measured import Findings
from gaugelink.assembly.parts import Measured
from gaugelink.capture.plan import JobRecord
from gaugelink.choosing.choice import Choice, Pick
from gaugelink.drawing.dimension import Dimension
from gaugelink.drawing.rules_plot import RowKind
from gaugelink.gauge_record import GaugeRecord
from gaugelink.jobbook.export import RecordIdentity
from gaugelink.jobbook.facts import Chosen, StoredFact
from gaugelink.recommending.recommend import Recommendation, recommend
from gaugelink.report.table import plus_minus
from gaugelink.report.text_job import last_of
from gaugelink.report.text_size import TO_ORDER, to_order
from gaugelink.sizing.inputs import ORDER, SizingInputs
from gaugelink.sizing.results import SizeResult, SpringFigures
from gaugelink.uncertainty.estimate import Estimate

_Kind = TypeVar("_Kind")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizing:
    """A sizing and what it was made from."""

    inputs: SizingInputs
    result: SizeResult


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PageContent:
    """All that a page tells; one is only equal to itself.

    Args:
        record: the job.
        parts: what each gauge found.
        findings: sizes with their uncertainty, and doubts.
        facts: what else is known of the job, in the order it was added.
        identity: of the record.
        software: version of gaugelink.
        created_utc: when the page is made, ISO 8601.
        sizing: None where there is nothing to size from.
        choice: None where no stock was looked at.
        missing: why there is no sizing, or no choice; empty when nothing is missing.
        gauges: the records of its gauges, by identity.
    """

    record: JobRecord
    parts: tuple[Measured, ...]
    findings: Findings
    facts: tuple[StoredFact, ...]
    identity: RecordIdentity
    software: str
    created_utc: str
    sizing: Sizing | None = None
    choice: Choice | None = None
    missing: str = ""
    gauges: Mapping[str, GaugeRecord] = field(default_factory=dict)

    @property
    def result(self) -> SizeResult | None:
        """The sizing's result."""
        return None if self.sizing is None else self.sizing.result

    @property
    def recommendation(self) -> Recommendation | None:
        """The one answer; None where nothing could be sized."""
        return None if self.result is None else recommend(self.result, self.choice)

    def last(self, kind: type[_Kind]) -> _Kind | None:
        """Return the fact of one kind that counts, the last one; None if there is none."""
        return last_of(self.facts, kind)


@dataclass(frozen=True, slots=True, kw_only=True)
class PageSpring:
    """A spring as the page shows it; sizes in mm, None where they are not known.

    ``figures`` are those of the sizing under ``label``; None for a spring of the stock, whose
    own stand in ``pick`` while the stock has it. ``end`` is its outer end, where one is named.
    """

    kind: RowKind
    label: str
    name: str
    thickness: Dimension
    height: Dimension | None
    length: Dimension | None
    figures: SpringFigures | None = None
    pick: Pick | None = None
    end: str | None = None


def page_spring(content: PageContent) -> PageSpring | None:
    """Return the spring to go by: fitted, to take, to order, else what was found."""
    if (fitted := fitted_spring(content)) is not None:
        return fitted
    answer = content.recommendation
    if answer is not None and answer.take is not None:
        return picked_spring(content, answer.take.item)
    return None if content.result is None else sized_spring(content.result)


def picked_spring(content: PageContent, item: str) -> PageSpring | None:
    """Return the spring of that name from the choice; None where it is not among the picks."""
    picks = () if content.choice is None else content.choice.picks
    return next((_picked(pick) for pick in picks if pick.spring.item == item), None)


def fitted_spring(content: PageContent) -> PageSpring | None:
    """Return the spring that was fitted, as it was kept; None while none was, or its size is open.

    Its figures are those of the stock, as long as the stock has it at that size.
    """
    chosen = content.last(Chosen)
    if chosen is None:
        return None
    now = picked_spring(content, chosen.item)
    kept = (chosen.height_mm, chosen.thickness_mm, chosen.length_mm)
    if now is not None and all(
        mm is None or (size is not None and math.isclose(mm, size.value_mm))
        for mm, size in zip(kept, (now.height, now.thickness, now.length), strict=True)
    ):
        return now
    height, thickness, length = kept
    if height is None or thickness is None or length is None:
        return None
    return PageSpring(
        kind=RowKind.PICKED,
        label=chosen.item,
        name=chosen.item,
        thickness=_nominal(thickness, None, "4"),
        height=_nominal(height, None, "4"),
        length=_nominal(length, None, "5"),
        end=chosen.end,
    )


def dimension(estimate: Estimate, *, assumed: bool = False) -> Dimension:
    """Return a size in mm as the drawings take it."""
    return Dimension(
        value_mm=estimate.value,
        low_mm=estimate.low,
        high_mm=estimate.high,
        figure=plus_minus(estimate),
        assumed=assumed,
    )


def given_springs(result: SizeResult) -> dict[RowKind, PageSpring]:
    """Return the springs that exist or are written down: found, documented, or neither."""
    given = {RowKind.FOUND: result.found, RowKind.DOCUMENTED: result.documented}
    return {
        kind: _sized(kind, kind.value, spring.figures, spring.figures.height)
        for kind, spring in given.items()
        if spring is not None
    }


def sized_spring(result: SizeResult) -> PageSpring | None:
    """Return the spring of a sizing to go by: the size to order, else what was found."""
    figures = to_order(result)
    if figures is not None:
        return replace(_sized(RowKind.PICKED, ORDER, figures, figures.height), name=TO_ORDER)
    return given_springs(result).get(RowKind.FOUND)


def _sized(
    kind: RowKind, label: str, figures: SpringFigures, height: Estimate | None
) -> PageSpring:
    return PageSpring(
        kind=kind,
        label=label,
        name=f"{label} spring",
        thickness=dimension(figures.thickness),
        height=None if height is None else dimension(height),
        length=None if figures.length is None else dimension(figures.length),
        figures=figures,
    )


def _picked(pick: Pick) -> PageSpring:
    spring = pick.spring
    length_mm = spring.length_mm if pick.cut_to_mm is None else pick.cut_to_mm
    return PageSpring(
        kind=RowKind.PICKED,
        label=spring.item,
        name=spring.item,
        thickness=_nominal(spring.thickness_mm, spring.thickness_tolerance_mm, "4"),
        height=_nominal(spring.height_mm, spring.height_tolerance_mm, "4"),
        length=_nominal(length_mm, spring.length_tolerance_mm, "5"),
        pick=pick,
        end=spring.end,
    )


def _nominal(size_mm: float, tolerance_mm: float | None, digits: str) -> Dimension:
    """A size from a list; its tolerance, where one is stated, is its interval."""
    either_way = tolerance_mm or 0.0
    figure = f"{size_mm:.{digits}g}"
    return Dimension(
        value_mm=size_mm,
        low_mm=size_mm - either_way,
        high_mm=size_mm + either_way,
        figure=f"{figure} ± {either_way:.2g}" if either_way else figure,
    )
