"""The drawings of a page with the words under them, each under a prefix of its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.drawing import (
    Svg,
    TorquePlot,
    draw_barrel_plan,
    draw_barrel_section,
    draw_budget,
    draw_readings,
    draw_rules,
    draw_torque,
)
from gaugelink.report.page_barrel import barrel_plan, barrel_section
from gaugelink.report.page_content import PageContent, Sizing
from gaugelink.report.page_readings import readings_figures
from gaugelink.report.page_rules import budgets, rule_panels
from gaugelink.report.page_spring import page_spring


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A drawing, the same for a narrow page where it has to be another, and its caption."""

    drawing: Svg
    caption: str
    narrow: Svg | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """The drawings of a page, by the section they stand in."""

    barrel: tuple[Figure, ...] = ()
    torque: Figure | None = None
    readings: tuple[Figure, ...] = ()
    rules: tuple[Figure, ...] = ()
    budgets: tuple[Figure, ...] = ()


def figures_of(content: PageContent, plot: TorquePlot | None) -> Figures:
    """Return the drawings of a page.

    Args:
        content: the page's content.
        plot: its torque curves, None where there are none.
    """
    sizing = content.sizing
    return Figures(
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
    yield Figure(
        drawing=draw_barrel_plan(plan, prefix="plan"),
        narrow=draw_barrel_plan(plan, prefix="plan-narrow", stacked=True),
        caption=f"Plan: {shown}. Shaded: the interval of a size; dashed: not measured.",
    )
    if section is not None:
        yield Figure(
            drawing=draw_barrel_section(section, prefix="section"),
            caption="Section, axis to wall. Shaded: the interval of the available height.",
        )


def _torque(content: PageContent, plot: TorquePlot) -> Figure:
    stopwork = content.sizing is not None and content.sizing.inputs.arrangement.stopwork
    top = " Full wind is here the top of the stopwork." if stopwork else ""
    open_hours = "" if plot.hours_per_turn else " Hours per turn are not known: no 24 h mark."
    return Figure(
        drawing=draw_torque(plot, prefix="torque"),
        caption=f"Friction left out. Material and free shape make the band.{top}{open_hours}",
    )


def _readings(content: PageContent) -> Iterator[Figure]:
    for number, figure in enumerate(readings_figures(content), start=1):
        yield Figure(
            drawing=draw_readings(figure.plot, prefix=f"readings-{number}"),
            caption=" ".join(figure.remarks),
        )


def _rules(content: PageContent) -> Iterator[Figure]:
    for number, panel in enumerate(rule_panels(content), start=1):
        yield Figure(drawing=draw_rules((panel,), prefix=f"rules-{number}"), caption="")


def _budgets(content: PageContent) -> Iterator[Figure]:
    for number, budget in enumerate(budgets(content), start=1):
        rest = f"Smaller ones together: {budget.left_out:.0%}." if budget.left_out >= 0.005 else ""
        yield Figure(
            drawing=draw_budget(budget.output, budget.bars, prefix=f"budget-{number}"),
            caption=rest,
        )
