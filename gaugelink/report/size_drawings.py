"""A sizing drawn: the barrel in plan and the torque curve, for a terminal or as an SVG file."""

from __future__ import annotations

from dataclasses import replace

from gaugelink.drawing import (
    BarrelPlan,
    Dimension,
    PlanSpring,
    Svg,
    TorquePlot,
    TorqueTrace,
    draw_barrel_plan,
    draw_torque,
    plan_text,
    standalone,
    torque_text,
)
from gaugelink.mechanics import SpringInBarrel, run_down, torque_after, working_span
from gaugelink.report.answer_text import springs_of
from gaugelink.report.numbers import plus_minus
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.results import SizeResult, SpringFigures
from gaugelink.sizing.rules import HALF_AREA, WANTED_TURNS
from gaugelink.sizing.torque_figures import BarrelSprings
from gaugelink.uncertainty.estimate import Estimate

_GIVEN = ("documented", "found")
# The spring to go by: a known size is used, the rules only check it.
_FIRST = ("documented", WANTED_TURNS, HALF_AREA, "found")
_POINTS = 61
_APART_PX = 24.0


def drawn_text(inputs: SizingInputs, result: SizeResult, *, ascii_only: bool) -> str:
    """Draw a sizing as text of at most 78 columns.

    Args:
        inputs: what was sized.
        result: its result.
        ascii_only: draw with ASCII where the terminal has no braille.
    """
    plot = _torque_plot(inputs, result)
    parts = [plan_text(_plan(inputs, result), ascii_only=ascii_only)]
    if plot is not None:
        parts.append(torque_text(plot, ascii_only=ascii_only))
    return "\n\n".join(parts)


def drawn_svg(inputs: SizingInputs, result: SizeResult) -> str:
    """Draw a sizing as a whole .svg file: the barrel, and below it the torque curve."""
    plot = _torque_plot(inputs, result)
    plan = draw_barrel_plan(_plan(inputs, result), prefix="barrel")
    if plot is None:
        return standalone(plan)
    return standalone(_stacked(plan, draw_torque(plot, prefix="torque")))


def _stacked(*drawings: Svg) -> Svg:
    """One sheet with drawings below one another, each at its own size."""
    width, placed, below = max(each.width for each in drawings), "", 0.0
    for each in drawings:
        place = f'<svg y="{below:g}" style="height:{each.height:g}px;max-width:none" '
        placed += each.markup.replace("<svg ", place, 1)
        below += each.height + _APART_PX
    height = below - _APART_PX
    root = (
        '<svg xmlns="http://www.w3.org/2000/svg" class="gl" '
        f'viewBox="0 0 {width:g} {height:g}" width="{width:g}" height="{height:g}">'
    )
    return Svg(width=width, height=height, markup=f"{root}{placed}</svg>")


def _plan(inputs: SizingInputs, result: SizeResult) -> BarrelPlan:
    known = {e.label: e for e in result.inputs}
    name = _shown(result)
    figures = springs_of(result)[name] if name else None
    strip = None
    if name and figures and figures.length:
        strip = PlanSpring(
            thickness_mm=figures.thickness.value,
            length_mm=figures.length.value,
            name=f"{name} spring",
        )
    return BarrelPlan(
        bore=_dimension(known["bore"]),
        arbor=_dimension(known["arbor"], assumed=inputs.arbor is None),
        spring=strip,
    )


def _torque_plot(inputs: SizingInputs, result: SizeResult) -> TorquePlot | None:
    name = _shown(result)
    spring = _trace(name, inputs, result) if name else None
    if spring is None:
        return None
    return TorquePlot(
        spring=spring,
        compared=_trace("found", inputs, result) if name != "found" else None,
        hours_per_turn=result.watch.hours_per_turn,
    )


def _shown(result: SizeResult) -> str | None:
    springs = springs_of(result)
    known = (name for name in _FIRST if name in springs and springs[name].length is not None)
    return next(known, None)


def _trace(name: str, inputs: SizingInputs, result: SizeResult) -> TorqueTrace | None:
    """The curve at the best values; its limits are those of the torque at full wind."""
    figures = springs_of(result).get(name)
    model = figures.torque_model if figures else None
    if figures is None or model is None or model.torque_full is None:
        return None
    spring = _spring(name, figures, inputs, result)
    span = working_span(run_down(spring), inputs.arrangement.stopwork)
    first, turns = float(span.first), float(span.turns)
    if turns <= 0:
        return None
    at = tuple(turns * i / (_POINTS - 1) for i in range(_POINTS))
    full = model.torque_full
    stress = float(spring.full_wind_stress_mpa)
    low, high = (
        replace(spring, full_wind_stress_mpa=stress * end / full.value)
        for end in (full.low, full.high)
    )
    return TorqueTrace(
        name=f"{name} spring",
        turns=at,
        low_nmm=_torques(low, first, at),
        middle_nmm=_torques(spring, first, at),
        high_nmm=_torques(high, first, at),
    )


def _spring(
    name: str, figures: SpringFigures, inputs: SizingInputs, result: SizeResult
) -> SpringInBarrel:
    known = {e.label: e.value for e in result.inputs}
    if result.height is not None:
        known["height"] = result.height.value
    known[f"{name}.thickness"] = figures.thickness.value
    if figures.length is not None:
        known[f"{name}.length"] = figures.length.value
    return BarrelSprings(known, inputs, {name: name in _GIVEN})[name]


def _torques(spring: SpringInBarrel, first: float, turns: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(float(torque_after(spring, first + turn)) for turn in turns)


def _dimension(estimate: Estimate, *, assumed: bool = False) -> Dimension:
    return Dimension(
        value_mm=estimate.value,
        low_mm=estimate.low,
        high_mm=estimate.high,
        figure=plus_minus(estimate),
        assumed=assumed,
    )
