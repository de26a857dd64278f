"""What a barrel in plan shows: which views there are, and where the strip lies in each."""

from __future__ import annotations

import math
from dataclasses import dataclass

from gaugelink.drawing.dimension import Dimension
from gaugelink.drawing.spiral import Spiral, run_down_spiral, strip_fits, wound_spiral
from gaugelink.sizing.rules import (
    coils_run_down,
    coils_wound,
    run_down_inner_diameter,
    wound_outer_diameter,
)

_LINK_TURNS = 0.75
_UP = -math.pi / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSpring:
    """The strip in the barrel: thickness and acting length in mm, and what it is called."""

    thickness_mm: float
    length_mm: float
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BarrelPlan:
    """Bore, arbor (measured or assumed) and the spring; None shows the barrel alone."""

    bore: Dimension
    arbor: Dimension
    spring: PlanSpring | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A strip in place; angles in radians, the band's limits are diameters of closed rings.

    ``link`` is the end that hangs over to arbor or wall, whose length is not counted.
    """

    spiral: Spiral
    start: float
    link: Spiral
    link_start: float
    band_inner_mm: float
    band_outer_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Diameter:
    """A diameter that a view shows, with its text."""

    name: str
    value_mm: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One view, with the diameters written above and below it."""

    heading: str
    note: str
    above: Diameter
    below: Diameter
    strip: Strip | None = None


def views_of(plan: BarrelPlan) -> tuple[View, ...]:
    """Return the spring run down and wound, or the bare barrel where none fits."""
    if plan.spring is None or misfit(plan):
        bare = View(
            heading="Barrel",
            note="",
            above=_measured("arbor", plan.arbor),
            below=_measured("bore", plan.bore),
        )
        return (bare,)
    return _run_down(plan, plan.spring), _wound(plan, plan.spring)


def misfit(plan: BarrelPlan) -> str:
    """Say that the strip does not fit in its ring; empty when it does, or there is none."""
    spring = plan.spring
    if spring is None or strip_fits(
        plan.bore.value_mm, plan.arbor.value_mm, spring.thickness_mm, spring.length_mm
    ):
        return ""
    return (
        f"The {spring.name}, {spring.thickness_mm:g} x {spring.length_mm:g} mm, does not fit "
        "between arbor and wall."
    )


def _run_down(plan: BarrelPlan, spring: PlanSpring) -> View:
    size = plan.bore.value_mm, spring.thickness_mm, spring.length_mm
    spiral, clear = run_down_spiral(*size), run_down_inner_diameter(*size)
    strip = Strip(
        spiral=spiral,
        start=_UP,
        link=_link(plan.arbor.value_mm / 2, spiral.inner_mm),
        link_start=_UP - 2 * math.pi * _LINK_TURNS,
        band_inner_mm=clear,
        band_outer_mm=plan.bore.value_mm,
    )
    return View(
        heading="Run down",
        note=f"{coils_run_down(*size):.1f} coils on the wall",
        above=Diameter(name="inside coils", value_mm=clear, text=f"inside coils ⌀ {clear:.2f}"),
        below=_measured("bore", plan.bore),
        strip=strip,
    )


def _wound(plan: BarrelPlan, spring: PlanSpring) -> View:
    size = plan.arbor.value_mm, spring.thickness_mm, spring.length_mm
    spiral, over = wound_spiral(*size), wound_outer_diameter(*size)
    strip = Strip(
        spiral=spiral,
        start=_UP,
        link=_link(spiral.outer_mm, plan.bore.value_mm / 2),
        link_start=_UP + 2 * math.pi * spiral.turns,
        band_inner_mm=plan.arbor.value_mm,
        band_outer_mm=over,
    )
    return View(
        heading="Wound",
        note=f"{coils_wound(*size):.1f} coils on the arbor",
        above=Diameter(name="over coils", value_mm=over, text=f"over coils ⌀ {over:.2f}"),
        below=_measured("arbor", plan.arbor),
        strip=strip,
    )


def _link(inner_mm: float, outer_mm: float) -> Spiral:
    pitch = (outer_mm - inner_mm) / _LINK_TURNS
    return Spiral(inner_mm=inner_mm, outer_mm=outer_mm, pitch_mm=pitch)


def _measured(name: str, size: Dimension) -> Diameter:
    return Diameter(name=name, value_mm=size.value_mm, text=f"{name} ⌀ {size.text}")
