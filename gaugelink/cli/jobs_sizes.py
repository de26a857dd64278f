"""The sizes by which jobs are found again: made from what was measured and what was chosen."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from gaugelink.assembly.quantities import measured_quantities
from gaugelink.capture.plan import MEASURANDS, JobRecord
from gaugelink.cli.output import say
from gaugelink.gauge_record import GaugeRecord
from gaugelink.jobbook.dimensions import Dimension, DimensionBook, JobSizes, JobState
from gaugelink.jobbook.fact_book import FactBook
from gaugelink.jobbook.facts import Chosen, SizeVersion, StoredFact
from gaugelink.jobbook.gauge_records import GaugeRecords
from gaugelink.jobbook.journal import Journal
from gaugelink.uncertainty.estimate import Quantity, factor_of, independent_influences

_AT_ONCE = 200  # jobs kept in one transaction
_WORTH_A_WORD = 500


def bring_up_to_date(journal: Path | None) -> int:
    """Make the sizes of all jobs whose sizes are missing or old; return how many were due."""
    with DimensionBook(journal) as book:
        due = book.due()
        if len(due) >= _WORTH_A_WORD:
            say(f"Looking through {len(due)} jobs, once; this takes a moment.")
        for start in range(0, len(due), _AT_ONCE):
            book.keep([*_sizes(due[start : start + _AT_ONCE], journal)])
    return len(due)


def reindex(journal: Path | None) -> int:
    """Make the sizes of all jobs afresh; return how many there are."""
    with DimensionBook(journal) as book:
        book.forget()
    return bring_up_to_date(journal)


def dimensions_of(
    record: JobRecord, facts: Sequence[StoredFact], gauges: Mapping[str, GaugeRecord]
) -> tuple[Dimension, ...]:
    """Return the sizes of a job: barrel and spring found, available height, spring chosen.

    Args:
        record: the job.
        facts: what else is known of it.
        gauges: what is known of gauges now, by identity.
    """
    return (*_measured(record, gauges), *_from_facts(facts))


def _sizes(due: Sequence[JobState], journal: Path | None) -> Iterator[JobSizes]:
    with GaugeRecords(journal) as records:
        gauges = records.by_identity()
    with Journal.open(journal) as opened, FactBook(journal) as facts:
        for state in due:
            record, known = opened.load(state.job_id), facts.facts(state.job_id)
            yield JobSizes(state=state, dimensions=dimensions_of(record, known, gauges))


def is_of_a_barrel(record: JobRecord) -> bool:
    """Tell whether a job measures a barrel; a check of a gauge measures blocks and pins."""
    return {step.measurand for step in record.setup.plan.steps} <= set(MEASURANDS)


def _measured(record: JobRecord, gauges: Mapping[str, GaugeRecord]) -> Iterator[Dimension]:
    if not is_of_a_barrel(record):
        return
    reference = record.setup.plan.depth_reference
    for name, quantity in measured_quantities(record, gauges).items():
        # A depth to the rim and one to the seat are two sizes, which no search may mix up.
        told_apart = f"depth_{reference}" if name == "depth" else name
        yield Dimension(name=told_apart, value_mm=quantity.value, u_mm=_u_mm(quantity))


def _u_mm(quantity: Quantity) -> float:
    """Return the combined standard uncertainty; influences are independent, GUM 5.1.2."""
    influences = independent_influences([quantity])
    return math.hypot(*(factor_of(quantity, each) * each.u for each in influences))


def _from_facts(facts: Sequence[StoredFact]) -> Iterator[Dimension]:
    newest = {type(stored.fact): stored.fact for stored in facts}
    size = newest.get(SizeVersion)
    if isinstance(size, SizeVersion) and (height := size.result.get("height")):
        yield Dimension(name="height", value_mm=float(height["value"]), u_mm=float(height["u"]))
    chosen = newest.get(Chosen)
    if isinstance(chosen, Chosen):
        for name in ("height", "thickness", "length"):
            value_mm = getattr(chosen, f"{name}_mm")
            if value_mm is not None:
                yield Dimension(name=f"chosen_{name}", value_mm=value_mm, u_mm=0.0)
