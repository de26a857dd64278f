"""A job as text: what was measured, what was rejected and why, what to do about it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from gaugelink.assembly.parts import Measured
from gaugelink.assembly.quantities import Findings
from gaugelink.capture.plan import JobRecord
from gaugelink.model import OutlierMark, Summary
from gaugelink.names import spoken
from gaugelink.report.numbers import concise, decimals_for, length_mm
from gaugelink.report.table import table, wrapped
from gaugelink.uncertainty.gauge_error import ZeroCheck

_SIZES = (
    "SIZES  corrected for zero, gauge and contact; in brackets the standard uncertainty of the "
    "last digits"
)


def job_text(record: JobRecord, parts: Sequence[Measured], findings: Findings | None = None) -> str:
    """Render a job: its head, a table a gauge with every remark, its sizes and their doubts."""
    state = "complete" if record.closed else "open"
    head = f"JOB {record.job_id}  {record.setup.title}".rstrip()
    begun = record.created_utc[:16].replace("T", " ")
    reference = record.setup.plan.depth_reference
    lines = [head, f"  begun {begun} UTC, {state}; depth measured to the {reference}"]
    lines += ["\n" + _gauge_text(part) for part in parts]
    if findings is not None:
        lines += _findings_lines(findings)
    return "\n".join(lines) + "\n"


def _gauge_text(part: Measured) -> str:
    gauge = part.gauge
    title = f"{str(gauge.kind).upper()}  {gauge.gauge_id}  ({gauge.format})"
    if not part.summaries:
        return "\n".join([title, *_zero_lines(part.zero), "  nothing measured yet"])
    header = ("", "mean mm", "s mm", "spread mm", "u(A) mm", "dof", "used")
    rows = [_row(summary) for summary in part.summaries]
    lines = [title, table(header, rows), *_zero_lines(part.zero)]
    lines += [line for summary in part.summaries for line in _remarks(summary)]
    return "\n".join(lines)


def _findings_lines(findings: Findings) -> Iterator[str]:
    if findings.sizes:
        yield "\n" + wrapped(_SIZES, lead="")
        rows = [(spoken(size.label), f"{concise(size)} {size.unit}") for size in findings.sizes]
        yield table(("", ""), rows)
    for number, doubt in enumerate(findings.doubts):
        yield ("" if number else "\n") + wrapped(doubt.text, lead="  ! ")


def _row(summary: Summary) -> tuple[str, ...]:
    step_mm = summary.resolution_mm
    return (
        spoken(summary.measurand),
        length_mm(summary.mean_mm, step_mm / 10),
        _small(summary.std_mm),
        length_mm(summary.spread_mm, step_mm),
        _small(summary.u_mean_mm),
        str(summary.dof) if summary.dof else "-",
        f"{summary.n_used} of {summary.n_taken}",
    )


def _zero_lines(zero: ZeroCheck | None) -> Iterator[str]:
    if zero is None:
        yield "  zero: not checked"
    elif zero.after_mm is None:
        yield f"  zero: {zero.before_mm:+.3f} mm before; not yet checked after"
    else:
        drift_mm = zero.after_mm - zero.before_mm
        yield (
            f"  zero: {zero.before_mm:+.3f} mm before, {zero.after_mm:+.3f} mm after "
            f"(drift {drift_mm:+.3f} mm)"
        )


def _remarks(summary: Summary) -> Iterator[str]:
    name = spoken(summary.measurand)
    for mark in summary.marks:
        yield wrapped(_mark_text(mark), lead=f"  {name}: ")
    for advice in summary.advice:
        yield wrapped(advice.text, lead=f"  {name}: ")


def _mark_text(mark: OutlierMark) -> str:
    outcome = "rejected" if mark.rejected else "marked, kept"
    return (
        f"reading {mark.index + 1} {outcome}: {mark.reason} ({mark.test} {mark.statistic:.3f}, "
        f"critical value {mark.critical_value:.3f} at {100.0 * mark.alpha:g} %)"
    )


def _small(value_mm: float | None) -> str:
    if value_mm is None:
        return "-"
    return f"{value_mm:.{decimals_for(value_mm)}f}"
