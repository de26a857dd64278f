"""What the drawings take from a job: plan and section of the barrel, readings, rules, budgets.

A sizing alone is drawn here too, for ``gaugelink size``; its torque curve is made in
``page_torque``.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from gaugelink.capture.acts import Undone
from gaugelink.drawing.barrel_plan import BarrelPlan, PlanSpring, draw_barrel_plan
from gaugelink.drawing.barrel_section import BarrelSection, SectionSpring, draw_barrel_section
from gaugelink.drawing.dimension import Dimension
from gaugelink.drawing.dot_plot import DotPlot, DotReading
from gaugelink.drawing.rules_plot import Bar, RowKind, RulePanel, RuleRow, budget_heading
from gaugelink.drawing.svg import Svg, standalone
from gaugelink.drawing.terminal import plan_text, torque_text
from gaugelink.drawing.torque_plot import draw_torque
from gaugelink.jobbook.facts import Chosen
from gaugelink.model import Series, Summary
from gaugelink.report.page_content import (
    PageContent,
    PageSpring,
    Sizing,
    dimension,
    given_springs,
    page_spring,
    sized_spring,
)
from gaugelink.report.page_torque import torque_of
from gaugelink.report.table import PLAY, details, length_mm, plus_minus
from gaugelink.sizing.inputs import ORDER, SizingInputs
from gaugelink.sizing.results import SizeResult
from gaugelink.uncertainty.estimate import Estimate
from gaugelink.units import spoken

_APART_PX = 24.0
_OF_BARREL = ("bore", "arbor", "depth", "lid", "recess", "clearance")
_MOST_BARS = 3
_MOST_IN_ORDER = 30
_LEAST_SHARE = 0.02


def drawn_text(inputs: SizingInputs, result: SizeResult, *, ascii_only: bool) -> str:
    """Draw a sizing as text of at most 78 columns.

    ``ascii_only`` is for a terminal without braille.
    """
    sizing, spring = Sizing(inputs=inputs, result=result), sized_spring(result)
    parts = [plan_text(barrel_plan(sizing, spring), ascii_only=ascii_only)]
    if (plot := torque_of(sizing, spring)) is not None:
        parts.append(torque_text(plot, ascii_only=ascii_only))
    return "\n\n".join(parts)


def drawn_svg(inputs: SizingInputs, result: SizeResult) -> str:
    """Draw a sizing as a whole .svg file: barrel in plan and section, torque curve below."""
    sizing, spring = Sizing(inputs=inputs, result=result), sized_spring(result)
    drawings = [draw_barrel_plan(barrel_plan(sizing, spring), prefix="plan")]
    if (section := barrel_section(sizing, spring)) is not None:
        drawings.append(draw_barrel_section(section, prefix="section"))
    if (plot := torque_of(sizing, spring)) is not None:
        drawings.append(draw_torque(plot, prefix="torque"))
    return standalone(_stacked(*drawings) if len(drawings) > 1 else drawings[0])


def _stacked(*drawings: Svg) -> Svg:
    """One sheet with drawings below one another, each at its own size."""
    width, placed, below = max(each.width for each in drawings), "", 0.0
    for each in drawings:
        place = f'<svg y="{below:.8g}" style="height:{each.height:.8g}px;max-width:none" '
        placed += each.markup.replace("<svg ", place, 1)
        below += each.height + _APART_PX
    height = below - _APART_PX
    root = (
        '<svg xmlns="http://www.w3.org/2000/svg" class="gl" '
        f'viewBox="0 0 {width:.8g} {height:.8g}" width="{width:.8g}" height="{height:.8g}">'
    )
    return Svg(width=width, height=height, markup=f"{root}{placed}</svg>")


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
    known, available, shown = _dimensions(sizing), sizing.result.height, None
    if available is None:
        return None
    if spring is not None and spring.height is not None:
        shown = SectionSpring(
            name=spring.name,
            height=spring.height,
            thickness_mm=spring.thickness.value_mm,
            length_mm=None if spring.length is None else spring.length.value_mm,
        )
    return BarrelSection(
        bore=known["bore"],
        arbor=known["arbor"],
        depth=known["depth"],
        depth_reference=sizing.inputs.depth_reference,
        lid=known.get("lid"),
        recess=known.get("recess"),
        available=dimension(available),
        clearance=known["clearance"],
        spring=shown,
    )


def barrel_sizes(sizing: Sizing) -> Iterator[tuple[str, str]]:
    """Yield the sizes of the barrel with their unit, the available height last."""
    known = {e.label: e for e in sizing.result.inputs}
    names = {"depth": f"depth to {sizing.inputs.depth_reference}", "clearance": PLAY}
    for label in _OF_BARREL:
        if label in known:
            name = names.get(label, label)
            yield name, f"{_in_detail(known[label])}{_assumed(sizing, label)}"
    if sizing.result.height is not None:
        yield "available height", _in_detail(sizing.result.height)


def _in_detail(size: Estimate) -> str:
    u, dof, k = details(size)
    more = "" if u == "-" else f" (u {u} mm, ν {dof}, k {k})"
    return f"{plus_minus(size)} mm{more}"


def _assumed(sizing: Sizing, label: str) -> str:
    """An arbor that nobody measured; ``assume_arbor`` says what it is taken for."""
    taken = ", assumed: bore / 3 (common practice)"
    return taken if label == "arbor" and sizing.inputs.arbor is None else ""


def _dimensions(sizing: Sizing) -> Mapping[str, Dimension]:
    known: dict[str, Estimate] = {e.label: e for e in sizing.result.inputs}
    return {
        label: dimension(known[label], assumed=bool(_assumed(sizing, label)))
        for label in _OF_BARREL
        if label in known
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingsFigure:
    """The dots of one measurand, each reading as a number, and what is to be said besides."""

    plot: DotPlot
    said: tuple[str, ...]


def readings_figures(content: PageContent) -> tuple[ReadingsFigure, ...]:
    """Return the readings of every measurand, a gauge after the other."""
    sizes = dict(_sizes(content))
    return tuple(
        ReadingsFigure(
            plot=_plot(series, summary, sizes.get(series.measurand)),
            said=tuple(_said(content, series, summary)),
        )
        for part in content.parts
        for series, summary in zip(part.series, part.summaries, strict=True)
    )


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


def _said(content: PageContent, series: Series, summary: Summary) -> Iterator[str]:
    """Every reading as it was shown, in its order; rejected, marked and undone ones with why.

    Many are counted by what they show.
    """
    marks = {mark.index: mark for mark in summary.marks}
    shown = []
    for i, reading in enumerate(series.readings):
        mark = marks.get(i)
        sign = "" if mark is None else " (rejected)" if mark.rejected else " (marked, kept)"
        shown.append(f"{reading.displayed}{sign}")
    if len(shown) > _MOST_IN_ORDER:
        shown = [f"{count} x {text}" for text, count in sorted(Counter(shown).items())]
    yield f"Readings ({series.readings[0].unit}): {', '.join(shown)}."
    for mark in summary.marks:
        what = "rejected" if mark.rejected else "marked, kept"
        yield f"{series.readings[mark.index].displayed} {what}: {mark.reason}"
    undone = [
        act.displayed
        for act in content.record.acts
        if isinstance(act, Undone) and act.measurand == series.measurand and act.displayed
    ]
    if undone:
        yield f"Undone by hand, not counted: {', '.join(undone)}."
    yield from (advice.text for advice in summary.advice)


def _bare_mean(summary: Summary) -> Dimension:
    """The mean of what has no equation, such as a known length that a gauge was checked on."""
    return Dimension(
        value_mm=summary.mean_mm,
        low_mm=summary.mean_mm,
        high_mm=summary.mean_mm,
        figure=length_mm(summary.mean_mm, summary.resolution_mm / 10),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """The largest shares of the variance of one figure; ``left_out`` is what the rest has."""

    output: str
    bars: tuple[Bar, ...]
    left_out: float

    @property
    def heading(self) -> str:
        """What it is the budget of, as the drawings say it."""
        return budget_heading(self.output)

    @property
    def rest(self) -> str:
        """What the others have, where that is worth saying."""
        share = 100 * self.left_out
        return f"Smaller ones together: {share:.0f} %." if share >= 0.5 else ""


def rule_panels(content: PageContent) -> tuple[RulePanel, ...]:
    """Return height, thickness and length, by every rule and of every spring that is known."""
    result = content.result
    if result is None:
        return ()
    by_rule = {
        "height": _shared({"available": result.height}),
        "thickness": _shared({each.rule: each.figures.thickness for each in result.rules}),
        "length": _shared({each.rule: each.figures.length for each in result.rules}),
    }
    panels = {name: (*rows, *_own(content, result, name)) for name, rows in by_rule.items()}
    return tuple(
        RulePanel(title=f"{name} in mm", rows=rows)
        for name, rows in panels.items()
        if len(rows) > 1 or (rows and rows[0].kind is RowKind.RULE)
    )


def budgets(content: PageContent) -> tuple[Budget, ...]:
    """Return what makes the available height and the turns of the spring to go by uncertain.

    Of a spring of the stock a sizing has no budget; that of the size to order is much the same.
    """
    result, spring = content.result, page_spring(content)
    if result is None:
        return ()
    label = ORDER if spring is None or spring.figures is None else spring.label
    made = (
        _budget("height", "available height", result),
        _budget(f"{label}.turns_usable", "usable turns", result),
    )
    return tuple(budget for budget in made if budget is not None)


def _shared(asked: Mapping[str, Estimate | None]) -> Iterator[RuleRow]:
    """The rows of rules; those that ask for one and the same size share a row."""
    names: dict[Dimension, list[str]] = {}
    for rule, estimate in asked.items():
        if estimate is not None:
            names.setdefault(dimension(estimate), []).append(rule)
    for size, together in names.items():
        everyone = len(together) == len(asked) > 1
        name = "every rule" if everyone else ", ".join(together)
        yield RuleRow(name=name, kind=RowKind.RULE, size=size)


def _own(content: PageContent, result: SizeResult, name: str) -> Iterator[RuleRow]:
    """The rows of springs, the one to order, to take or that was fitted last."""
    rows = [(spring.kind, spring) for spring in given_springs(result).values()]
    shown = page_spring(content)
    if shown is not None and shown.kind is RowKind.PICKED:
        rows.append((shown.kind, shown))
    what = "fitted" if content.last(Chosen) is not None else "to take"
    for kind, spring in rows:
        size: Dimension | None = getattr(spring, name)
        called = spring.name if spring.figures is not None else f"{what}, {spring.name}"
        if size is not None:
            yield RuleRow(name=called, kind=kind, size=size)


def _budget(output: str, called: str, result: SizeResult) -> Budget | None:
    rows = sorted((r for r in result.budget if r.output == output), key=lambda r: -r.share)
    shown = [row for row in rows[:_MOST_BARS] if row.share >= _LEAST_SHARE]
    if not shown:
        return None
    return Budget(
        output=called,
        bars=tuple(Bar(name=row.influence, kind=row.kind, share=row.share) for row in shown),
        left_out=max(0.0, 1.0 - sum(row.share for row in shown)),
    )
