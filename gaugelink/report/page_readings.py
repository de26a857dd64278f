"""Every measurand's readings as the drawings take them, and who took them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.assembly.parts import Measured
from gaugelink.drawing.dimension import Dimension
from gaugelink.drawing.dot_plot import DotPlot, DotReading
from gaugelink.model import GaugeInfo, GaugeKind, Series, Summary
from gaugelink.names import spoken
from gaugelink.report.numbers import length_mm
from gaugelink.report.page_content import PageContent
from gaugelink.report.page_spring import dimension
from gaugelink.uncertainty.estimate import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsFigure:
    """The dots of one measurand, and what is to be said of it besides."""

    plot: DotPlot
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeLine:
    """One gauge in words: what it is, its zero, and how far it may be off."""

    kind: str
    zero: str
    limits: str
    source: str


def readings_figures(content: PageContent) -> tuple[ReadingsFigure, ...]:
    """Return the readings of every measurand, a gauge after the other."""
    sizes = dict(_sizes(content))
    return tuple(
        ReadingsFigure(
            plot=_plot(series, summary, sizes.get(series.measurand)),
            remarks=tuple(_remarks(summary)),
        )
        for part in content.parts
        for series, summary in zip(part.series, part.summaries, strict=True)
    )


def gauge_lines(content: PageContent) -> tuple[GaugeLine, ...]:
    """Return the gauges of the job in words."""
    return tuple(_gauge_line(part) for part in content.parts)


def _sizes(content: PageContent) -> Iterator[tuple[str, Estimate]]:
    """By measurand: as the sizing has them, unless another value was typed in their place."""
    used = {e.label.replace(".", "_"): e for e in (content.result.inputs if content.result else ())}
    for size in content.findings.sizes:
        name = size.label.replace(".", "_")
        other = used.get(name)
        same = other is not None and math.isclose(other.value, size.value, rel_tol=1e-12)
        yield name, other if same and other is not None else size


def _plot(series: Series, summary: Summary, size: Estimate | None) -> DotPlot:
    rejected = {mark.index: mark.reason for mark in summary.marks if mark.rejected}
    return DotPlot(
        measurand=spoken(series.measurand),
        readings=tuple(
            DotReading(value_mm=reading.value_mm, rejected=rejected.get(i, ""))
            for i, reading in enumerate(series.readings)
        ),
        mean=_bare_mean(summary) if size is None else dimension(size),
    )


def _bare_mean(summary: Summary) -> Dimension:
    """The mean of what has no equation, such as a known length that a gauge was checked on."""
    return Dimension(
        value_mm=summary.mean_mm,
        low_mm=summary.mean_mm,
        high_mm=summary.mean_mm,
        figure=length_mm(summary.mean_mm, summary.resolution_mm / 10),
    )


def _remarks(summary: Summary) -> Iterator[str]:
    yield from (f"Marked, kept: {mark.reason}" for mark in summary.marks if not mark.rejected)
    yield from (advice.text for advice in summary.advice)


def _gauge_line(part: Measured) -> GaugeLine:
    gauge = part.gauge
    return GaugeLine(
        kind=str(gauge.kind),
        zero=_zero(part),
        limits=_limits(gauge),
        source=gauge.mpe_source,
    )


def _limits(gauge: GaugeInfo) -> str:
    inside = f", inside and in depth ±{gauge.shift_mpe_mm:g} mm more"
    more = inside if gauge.kind is GaugeKind.CALIPER else ""
    return f"limit of error ±{gauge.mpe_mm:g} mm{more}"


def _zero(part: Measured) -> str:
    zero = part.zero
    if zero is None:
        return "not checked"
    before = f"{zero.before_mm:+.3f} mm before"
    if zero.after_mm is None:
        return f"{before}, not yet checked after"
    return f"{before}, {zero.after_mm:+.3f} mm after"
