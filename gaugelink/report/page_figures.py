"""The drawings of a page, each in a wide and a narrow form, with the words under them.

Barrel and spring as the drawings take them, and the sizes beside the drawings.

Every measurand's readings as the drawings take them, and who took them.

Rules and springs side by side, and what makes the figures uncertain, as the drawings take it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial

from gaugelink.assembly.parts import Measured
from gaugelink.drawing.barrel_plan import BarrelPlan, PlanSpring, draw_barrel_plan
from gaugelink.drawing.barrel_section import BarrelSection, SectionSpring, draw_barrel_section
from gaugelink.drawing.dimension import Dimension
from gaugelink.drawing.dot_plot import DotPlot, DotReading, draw_readings
from gaugelink.drawing.lettering import Sheet
from gaugelink.drawing.rules_plot import Bar, RowKind, RulePanel, RuleRow, draw_budget, draw_rules
from gaugelink.drawing.svg import Svg
from gaugelink.drawing.torque_plot import TorquePlot, draw_torque
from gaugelink.model import GaugeInfo, GaugeKind, Series, Summary
from gaugelink.report.page_content import (
    PageContent,
    PageSpring,
    Sizing,
    dimension,
    given_springs,
    page_spring,
)
from gaugelink.report.table import length_mm, plus_minus
from gaugelink.sizing.results import RuleResult, SizeResult
from gaugelink.sizing.rules import HALF_AREA
from gaugelink.uncertainty.estimate import BudgetRow, Estimate
from gaugelink.units import spoken


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A drawing, the same for a narrow screen, and its caption."""

    wide: Svg
    narrow: Svg
    caption: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PageDrawings:
    """The drawings of a page, by the section they stand in."""

    barrel: tuple[Figure, ...] = ()
    torque: Figure | None = None
    readings: tuple[Figure, ...] = ()
    rules: tuple[Figure, ...] = ()
    budgets: tuple[Figure, ...] = ()


def figures_of(content: PageContent, plot: TorquePlot | None) -> PageDrawings:
    """Return the drawings of a page.

    Args:
        content: the page's content.
        plot: its torque curves, None where there are none.
    """
    sizing = content.sizing
    return PageDrawings(
        barrel=() if sizing is None else tuple(_barrel(content, sizing)),
        torque=None if plot is None else _torque(content, plot),
        readings=tuple(_readings(content)),
        rules=tuple(_rules(content)),
        budgets=tuple(_budgets(content)),
    )


def _barrel(content: PageContent, sizing: Sizing) -> Iterator[Figure]:
    spring = page_spring(content)
    plan, section = barrel_plan(sizing, spring), barrel_section(sizing, spring)
    shown = "the barrel alone" if plan.spring is None else spring.name if spring else ""
    yield _figure(
        partial(draw_barrel_plan, plan),
        prefix="plan",
        caption=f"Plan: {shown}. Shaded: the interval of a size; dashed: not measured.",
    )
    if section is not None:
        yield _figure(
            partial(draw_barrel_section, section),
            prefix="section",
            caption="Section, axis to wall. Shaded: the interval of the available height.",
        )


def _torque(content: PageContent, plot: TorquePlot) -> Figure:
    stopwork = content.sizing is not None and content.sizing.inputs.arrangement.stopwork
    top = " Full wind is here the top of the stopwork." if stopwork else ""
    open_hours = "" if plot.hours_per_turn else " Hours per turn are not known: no 24 h mark."
    return _figure(
        partial(draw_torque, plot),
        prefix="torque",
        caption=f"Friction left out. Material and free shape make the band.{top}{open_hours}",
    )


def _readings(content: PageContent) -> Iterator[Figure]:
    for number, figure in enumerate(readings_figures(content), start=1):
        draw, caption = partial(draw_readings, figure.plot), " ".join(figure.remarks)
        yield _figure(draw, prefix=f"readings-{number}", caption=caption)


def _rules(content: PageContent) -> Iterator[Figure]:
    for number, panel in enumerate(rule_panels(content), start=1):
        yield _figure(partial(draw_rules, (panel,)), prefix=f"rules-{number}")


def _budgets(content: PageContent) -> Iterator[Figure]:
    for number, budget in enumerate(budgets(content), start=1):
        left_out = 100 * budget.left_out
        rest = f"Smaller ones together: {left_out:.0f} %." if left_out >= 0.5 else ""
        draw = partial(draw_budget, budget.output, budget.bars)
        yield _figure(draw, prefix=f"budget-{number}", caption=rest)


def _figure(draw: Callable[..., Svg], *, prefix: str, caption: str = "") -> Figure:
    """Draw for both sheets, the narrow one under a prefix of its own."""
    return Figure(
        wide=draw(prefix=prefix, sheet=Sheet.WIDE),
        narrow=draw(prefix=f"{prefix}-narrow", sheet=Sheet.NARROW),
        caption=caption,
    )


_OF_BARREL = ("bore", "arbor", "depth", "lid", "recess", "clearance")


def barrel_plan(sizing: Sizing, spring: PageSpring | None) -> BarrelPlan:
    """Return the barrel in plan; its spring only where a length is known."""
    known = _dimensions(sizing)
    strip = None
    if spring is not None and spring.length is not None:
        strip = PlanSpring(
            thickness_mm=spring.thickness.value_mm,
            length_mm=spring.length.value_mm,
            name=spring.name,
        )
    return BarrelPlan(bore=known["bore"], arbor=known["arbor"], spring=strip)


def barrel_section(sizing: Sizing, spring: PageSpring | None) -> BarrelSection | None:
    """Return the barrel in section; None where no available height is known."""
    known, available = _dimensions(sizing), sizing.result.height
    if available is None:
        return None
    return BarrelSection(
        bore=known["bore"],
        arbor=known["arbor"],
        depth=known["depth"],
        depth_reference=sizing.inputs.depth_reference,
        lid=known.get("lid"),
        recess=known.get("recess"),
        available=dimension(available),
        clearance=known["clearance"],
        spring=_in_section(spring),
    )


def barrel_sizes(sizing: Sizing) -> Iterator[tuple[str, str]]:
    """Yield the sizes of the barrel with their unit, the available height last."""
    known = {e.label: e for e in sizing.result.inputs}
    for label in _OF_BARREL:
        if label in known:
            yield _named(sizing, label), f"{plus_minus(known[label])} mm{_assumed(sizing, label)}"
    if sizing.result.height is not None:
        yield "available height", f"{plus_minus(sizing.result.height)} mm"


def _named(sizing: Sizing, label: str) -> str:
    return f"depth to {sizing.inputs.depth_reference}" if label == "depth" else label


def _assumed(sizing: Sizing, label: str) -> str:
    return ", assumed" if label == "arbor" and sizing.inputs.arbor is None else ""


def _dimensions(sizing: Sizing) -> Mapping[str, Dimension]:
    known: dict[str, Estimate] = {e.label: e for e in sizing.result.inputs}
    return {
        label: dimension(known[label], assumed=bool(_assumed(sizing, label)))
        for label in _OF_BARREL
        if label in known
    }


def _in_section(spring: PageSpring | None) -> SectionSpring | None:
    if spring is None or spring.height is None:
        return None
    return SectionSpring(
        name=spring.name,
        height=spring.height,
        thickness_mm=spring.thickness.value_mm,
        length_mm=None if spring.length is None else spring.length.value_mm,
    )


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


_MOST_BARS = 3
_LEAST_SHARE = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """The largest shares of the variance of one figure; ``left_out`` is what the rest has."""

    output: str
    bars: tuple[Bar, ...]
    left_out: float


def rule_panels(content: PageContent) -> tuple[RulePanel, ...]:
    """Return height, thickness and length, by every rule and of every spring that is known."""
    result = content.result
    if result is None:
        return ()
    springs = _springs(content, result)
    panels = {
        "height": [*_available(result), *_rows(springs, lambda s: s.height)],
        "thickness": [*_by_rule(result, _thickness), *_rows(springs, lambda s: s.thickness)],
        "length": [*_by_rule(result, _length), *_rows(springs, lambda s: s.length)],
    }
    return tuple(
        RulePanel(title=f"{name} in mm", rows=tuple(rows))
        for name, rows in panels.items()
        if len(rows) > 1 or (rows and rows[0].kind is RowKind.RULE)
    )


def rule_bases(content: PageContent) -> tuple[tuple[str, str], ...]:
    """Return each rule with the ground it stands on."""
    rules = content.result.rules if content.result else ()
    return tuple((rule.rule, rule.basis) for rule in rules)


def budgets(content: PageContent) -> tuple[Budget, ...]:
    """Return what makes the available height and the length by rule uncertain."""
    result = content.result
    if result is None:
        return ()
    made = (_budget(output, result) for output in ("height", f"{_rule(content)}.length"))
    return tuple(budget for budget in made if budget is not None)


def turns_budget(content: PageContent) -> Budget | None:
    """Return what makes the usable turns uncertain: mostly one thing, what is assumed."""
    result, spring = content.result, page_spring(content)
    if result is None or spring is None:
        return None
    label = _rule(content) if spring.kind is RowKind.PICKED else spring.label
    return _budget(f"{label}.turns_usable", result)


def _rule(content: PageContent) -> str:
    spring = page_spring(content)
    return spring.label if spring is not None and spring.kind is RowKind.RULE else HALF_AREA


def _springs(content: PageContent, result: SizeResult) -> tuple[PageSpring, ...]:
    given, shown = given_springs(result), page_spring(content)
    picked = [shown] if shown is not None and shown.kind is RowKind.PICKED else []
    return (*given.values(), *picked)


def _available(result: SizeResult) -> Iterator[RuleRow]:
    if result.height is not None:
        yield _row("available", RowKind.RULE, dimension(result.height))


def _by_rule(
    result: SizeResult, size: Callable[[RuleResult], Dimension | None]
) -> Iterator[RuleRow]:
    """Rules that ask for one and the same size share a row."""
    names: dict[Dimension, list[str]] = {}
    for rule in result.rules:
        asked = size(rule)
        if asked is not None:
            names.setdefault(asked, []).append(rule.rule)
    for asked, together in names.items():
        everyone = len(together) == len(result.rules) > 1
        name = "every rule" if everyone else ", ".join(together)
        yield _row(name, RowKind.RULE, asked)


def _thickness(rule: RuleResult) -> Dimension | None:
    return dimension(rule.figures.thickness)


def _length(rule: RuleResult) -> Dimension | None:
    length = rule.figures.length
    return None if length is None else dimension(length)


def _rows(
    springs: tuple[PageSpring, ...], size: Callable[[PageSpring], Dimension | None]
) -> Iterator[RuleRow]:
    for spring in springs:
        known = size(spring)
        if known is not None:
            yield _row(spring.label, spring.kind, known)


def _row(name: str, kind: RowKind, size: Dimension) -> RuleRow:
    return RuleRow(
        name=name,
        kind=kind,
        value=size.value_mm,
        low=size.low_mm,
        high=size.high_mm,
        figure=size.figure,
    )


def _budget(output: str, result: SizeResult) -> Budget | None:
    rows = sorted((r for r in result.budget if r.output == output), key=lambda r: -r.share)
    shown = [row for row in rows[:_MOST_BARS] if row.share >= _LEAST_SHARE]
    if not shown:
        return None
    return Budget(
        output=spoken(output),
        bars=tuple(_bar(row) for row in shown),
        left_out=max(0.0, 1.0 - sum(row.share for row in shown)),
    )


def _bar(row: BudgetRow) -> Bar:
    return Bar(name=row.influence, kind=row.kind, share=row.share)
