"""The drawings of a page, each in a wide and a narrow form, with the words under them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from gaugelink.drawing.barrel_plan import draw_barrel_plan
from gaugelink.drawing.barrel_section import draw_barrel_section
from gaugelink.drawing.dot_plot import draw_readings
from gaugelink.drawing.lettering import Sheet
from gaugelink.drawing.rules_plot import draw_budget, draw_rules
from gaugelink.drawing.svg import Svg
from gaugelink.drawing.torque_plot import TorquePlot, draw_torque
from gaugelink.report.page_barrel import barrel_plan, barrel_section
from gaugelink.report.page_content import PageContent, Sizing
from gaugelink.report.page_readings import readings_figures
from gaugelink.report.page_rules import budgets, rule_panels
from gaugelink.report.page_spring import page_spring


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A drawing, the same for a narrow screen, and its caption."""

    wide: Svg
    narrow: Svg
    caption: str


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
