"""Jobs as a table for a spreadsheet: a row a measurand a job."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from gaugelink.assembly.parts import Measured
from gaugelink.capture.plan import JobRecord
from gaugelink.jobbook.facts import Chosen, Movement, Reference, StoredFact
from gaugelink.model import Summary
from gaugelink.uncertainty.estimate import Estimate

HEADER = (
    *("job", "title", "begun_utc", "closed", "reference", "movement", "chosen", "gauge"),
    *("kind", "measurand", "n_taken", "n_used", "mean_mm", "std_mm", "u_mean_mm", "dof"),
    *("value_mm", "u_mm", "readings"),
)


def csv_rows(
    record: JobRecord,
    parts: Sequence[Measured],
    sizes: Sequence[Estimate],
    facts: Sequence[StoredFact],
) -> Iterator[tuple[str, ...]]:
    """Go through the rows of a job; a job in which nothing was measured has one.

    Args:
        record: the job.
        parts: what stands in it, a part a gauge.
        sizes: its measurands, corrected, with their uncertainty.
        facts: what else is known of it.
    """
    head = _head(record, facts)
    corrected = {size.label.replace(".", "_"): size for size in sizes}
    empty = ("",) * (len(HEADER) - len(head))
    rows = [
        (
            *head,
            part.gauge.gauge_id,
            str(part.gauge.kind),
            *_summary(summary),
            *_corrected(corrected.get(summary.measurand)),
            " ".join(reading.displayed for reading in series.readings),
        )
        for part in parts
        for summary, series in zip(part.summaries, part.series, strict=True)
    ]
    yield from rows or [(*head, *empty)]


def _head(record: JobRecord, facts: Sequence[StoredFact]) -> tuple[str, ...]:
    last = {type(stored.fact): stored.fact for stored in facts}
    reference, movement, chosen = last.get(Reference), last.get(Movement), last.get(Chosen)
    return (
        str(record.job_id),
        record.setup.title,
        record.created_utc,
        "yes" if record.closed else "no",
        reference.text if isinstance(reference, Reference) else "",
        movement.text if isinstance(movement, Movement) else "",
        chosen.item if isinstance(chosen, Chosen) else "",
    )


def _summary(summary: Summary) -> tuple[str, ...]:
    return (
        summary.measurand,
        str(summary.n_taken),
        str(summary.n_used),
        _number(summary.mean_mm),
        _number(summary.std_mm),
        _number(summary.u_mean_mm),
        str(summary.dof),
    )


def _corrected(size: Estimate | None) -> tuple[str, str]:
    return ("", "") if size is None else (_number(size.value), _number(size.u))


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"
