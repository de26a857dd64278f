"""Invented barrels, springs and readings to draw; strategies for any others."""

from __future__ import annotations

import math
from typing import Any

from hypothesis import strategies as st

from gaugelink.drawing.barrel_plan import BarrelPlan, PlanSpring, draw_barrel_plan
from gaugelink.drawing.barrel_section import BarrelSection, SectionSpring, draw_barrel_section
from gaugelink.drawing.dimension import Dimension
from gaugelink.drawing.dot_plot import DotPlot, DotReading, draw_readings
from gaugelink.drawing.lettering import Sheet
from gaugelink.drawing.rules_plot import Bar, RowKind, RulePanel, RuleRow, draw_budget, draw_rules
from gaugelink.drawing.svg import Svg
from gaugelink.drawing.torque_plot import TorquePlot, TorqueTrace, draw_torque
from gaugelink.model import DepthReference

LONG = 'a spring of a very long name, with <b>marks</b> & "quotes", that somebody typed'


def size(value_mm: float, half_mm: float = 0.04, *, assumed: bool = False) -> Dimension:
    return Dimension(
        value_mm=value_mm,
        low_mm=value_mm - half_mm,
        high_mm=value_mm + half_mm,
        figure=f"{value_mm:.3f} ± {half_mm:.3f}",
        assumed=assumed,
    )


def plan(
    bore: float = 11.0,
    arbor: float = 11 / 3,
    thickness: float = 0.12,
    length: float = 352.0,
    name: str = "found spring",
) -> BarrelPlan:
    spring = PlanSpring(thickness_mm=thickness, length_mm=length, name=name)
    return BarrelPlan(bore=size(bore), arbor=size(arbor), spring=spring)


def section(
    *,
    bore: float = 11.0,
    depth: float = 1.92,
    lid: float | None = 0.31,
    recess: float | None = None,
    reference: DepthReference = DepthReference.RIM,
    height: float | None = 1.45,
    clearance: float = 0.1,
    name: str = "found spring",
) -> BarrelSection:
    below = (lid or 0.0) if reference is DepthReference.RIM else 0.0
    available = depth - below + (recess or 0.0) - clearance
    spring = SectionSpring(
        name=name, height=size(height or 1.0), thickness_mm=bore / 90, length_mm=None
    )
    return BarrelSection(
        bore=size(bore),
        arbor=size(bore / 3),
        depth=size(depth),
        depth_reference=reference,
        lid=None if lid is None else size(lid, 0.01),
        recess=None if recess is None else size(recess, 0.01),
        available=size(available),
        clearance=size(clearance, 0.0),
        spring=None if height is None else spring,
    )


def trace(
    name: str = "found spring", full: float = 9.0, turns: float = 6.5, spent: float = 1.0
) -> TorqueTrace:
    """A curve that falls as the root of the turns left; less than all are spent in a stopwork."""
    part = tuple(i / 20 for i in range(21))
    middle = tuple(full * math.sqrt(1 - spent * p) for p in part)
    return TorqueTrace(
        name=name,
        turns=tuple(turns * p for p in part),
        low_nmm=tuple(0.9 * m for m in middle),
        middle_nmm=middle,
        high_nmm=tuple(1.1 * m for m in middle),
    )


def dots(values: list[float], rejected: dict[float, str] | None = None) -> DotPlot:
    kept = tuple(DotReading(value_mm=v) for v in values)
    out = tuple(DotReading(value_mm=v, rejected=why) for v, why in (rejected or {}).items())
    mean = sum(values) / len(values) if values else next(iter(rejected or {0.0: ""}))
    return DotPlot(measurand="found thickness", readings=(*kept, *out), mean=size(mean, 0.003))


def row(name: str, kind: RowKind, value: float, half: float) -> RuleRow:
    size = Dimension(
        value_mm=value,
        low_mm=value - half,
        high_mm=value + half,
        figure=f"{value:.3g} ± {half:.2g}",
    )
    return RuleRow(name=name, kind=kind, size=size)


ROWS = (
    row("half-area", RowKind.RULE, 0.121, 0.004),
    row("found", RowKind.FOUND, 0.13, 0.003),
    row("documented", RowKind.DOCUMENTED, 0.12, 0.0),
    row(LONG, RowKind.PICKED, 0.125, 0.002),
)
BARS = (
    Bar(name="arbor assumed", kind="B", share=0.75),
    Bar(name=LONG, kind="A", share=0.25),
    Bar(name="zero", kind="B", share=0.0),
)

names = st.text(max_size=60)
bores = st.floats(3.0, 60.0)


@st.composite
def plans(draw: st.DrawFn) -> BarrelPlan:
    """Any barrel, its strip from nearly none to more than it holds."""
    bore = draw(bores)
    arbor = bore * draw(st.floats(0.15, 0.5))
    thickness = bore / draw(st.floats(60.0, 130.0))
    length = draw(st.floats(0.05, 1.2)) * math.pi * (bore**2 - arbor**2) / 4 / thickness
    spring = PlanSpring(thickness_mm=thickness, length_mm=length, name=draw(names))
    spread, assumed = draw(st.floats(0.0, 0.2)) * arbor, draw(st.booleans())
    return BarrelPlan(
        bore=size(bore, draw(st.floats(0.0, 0.1))),
        arbor=size(arbor, spread, assumed=assumed),
        spring=draw(st.sampled_from([spring, None])),
    )


@st.composite
def sections(draw: st.DrawFn) -> BarrelSection:
    """Any depth from a flat to a tall barrel, the spring too low, fitting or far too high."""
    bore = draw(bores)
    depth = bore * draw(st.floats(0.06, 1.0))
    lid = depth * draw(st.floats(0.05, 0.4))
    reference = draw(st.sampled_from(list(DepthReference)))
    may_lack = reference is DepthReference.SEAT and draw(st.booleans())
    return section(
        bore=bore,
        depth=depth,
        lid=None if may_lack else lid,
        recess=draw(st.sampled_from([None, lid / 3])),
        reference=reference,
        height=draw(st.sampled_from([None, 0.3, 0.8, 1.0, 1.5])) or None,
        clearance=0.02 * depth,
        name=draw(names),
    )


@st.composite
def torque_plots(draw: st.DrawFn) -> TorquePlot:
    full, turns, spent = st.floats(0.05, 500.0), st.floats(1.0, 15.0), st.floats(0.0, 1.0)
    other = trace(draw(names), draw(full), draw(turns), draw(spent))
    return TorquePlot(
        spring=trace(draw(names), draw(full), draw(turns), draw(spent)),
        compared=draw(st.sampled_from([other, None])),
        hours_per_turn=draw(st.one_of(st.none(), st.floats(2.0, 12.0))),
    )


@st.composite
def dot_plots(draw: st.DrawFn) -> DotPlot:
    middle = draw(st.floats(0.05, 60.0))
    offsets = draw(st.lists(st.integers(-20, 20), min_size=1, max_size=200))
    step = draw(st.sampled_from([0.0001, 0.001, 0.01]))
    far = draw(st.lists(st.floats(0.0, 300.0), max_size=6))
    why = draw(names) or "rejected"
    return dots([middle + step * k for k in offsets], dict.fromkeys(far, why))


@st.composite
def panels(draw: st.DrawFn) -> tuple[RulePanel, ...]:
    value, half = st.floats(0.05, 2000.0), st.floats(0.0, 20.0)
    rows = [
        row(draw(names), kind, draw(value), draw(half))
        for kind in draw(st.lists(st.sampled_from(list(RowKind)), min_size=1, max_size=6))
    ]
    return (RulePanel(title=draw(names), rows=tuple(rows)), RulePanel(title="x", rows=ROWS))


bars = st.lists(
    st.builds(Bar, name=names, kind=st.sampled_from(["A", "B"]), share=st.floats(0.0, 1.0)),
    max_size=12,
)


SHEETS = st.sampled_from(list(Sheet))


@st.composite
def drawings(draw: st.DrawFn, sheets: st.SearchStrategy[Sheet] = SHEETS) -> Svg:
    """Any drawing of any kind, wide or narrow."""
    kind = draw(st.integers(0, 5))
    form: dict[str, Any] = {"prefix": "p", "sheet": draw(sheets)}
    if kind == 0:
        return draw_barrel_plan(draw(plans()), **form)
    if kind == 1:
        return draw_barrel_section(draw(sections()), **form)
    if kind == 2:
        return draw_torque(draw(torque_plots()), **form)
    if kind == 3:
        return draw_readings(draw(dot_plots()), **form)
    if kind == 4:
        return draw_budget(draw(names), tuple(draw(bars)), **form)
    return draw_rules(draw(panels()), **form)


def one_of_each(prefix: str, sheet: Sheet = Sheet.WIDE) -> list[Svg]:
    """One drawing of each kind, with all their patterns, under prefixes that begin alike."""
    torque = TorquePlot(spring=trace(LONG), compared=trace("other", 8.0), hours_per_turn=7.5)
    rules = (RulePanel(title="thickness in mm", rows=ROWS),)
    dotted = dots([0.12, 0.121, 0.12], {0.15: LONG})
    return [
        draw_barrel_plan(plan(name=LONG), prefix=f"{prefix}-plan", sheet=sheet),
        draw_barrel_section(
            section(height=1.9, name=LONG), prefix=f"{prefix}-section", sheet=sheet
        ),
        draw_torque(torque, prefix=f"{prefix}-torque", sheet=sheet),
        draw_readings(dotted, prefix=f"{prefix}-dots", sheet=sheet),
        draw_budget(LONG, BARS, prefix=f"{prefix}-budget", sheet=sheet),
        draw_rules(rules, prefix=f"{prefix}-rules", sheet=sheet),
    ]
