"""Torque against turns as the drawing takes it: the spring to go by beside the one found.

The band of a curve is what material and free shape leave open: its ends are the curves of
the stress at full wind at which the torque there meets the ends of its interval.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from gaugelink.drawing.rules_plot import RowKind
from gaugelink.drawing.torque_plot import TorquePlot, TorqueTrace
from gaugelink.mechanics.arrangement import Stopwork
from gaugelink.mechanics.materials import OPEN, Material, end_named, material_named, with_end
from gaugelink.mechanics.spring import SpringInBarrel, as_spiral, fits
from gaugelink.mechanics.stopwork import HALF_TURN, driving_torque, selected_turns
from gaugelink.mechanics.torque import torque_after, usable_turns
from gaugelink.report.page_content import (
    PageContent,
    PageSpring,
    Sizing,
    given_springs,
    page_spring,
)
from gaugelink.sizing.measurement_model import MPA_PER_GPA, BarrelSprings
from gaugelink.uncertainty.coverage import coverage_factor

_POINTS = 61


@dataclass(frozen=True, slots=True, kw_only=True)
class _Acting:
    """A spring in its barrel, and between which stresses at full wind it may be, in MPa."""

    spring: SpringInBarrel
    low_mpa: float
    high_mpa: float


def torque_plot(content: PageContent) -> TorquePlot | None:
    """Return the torque curves; None where the height or the length of the spring is not known."""
    return None if content.sizing is None else torque_of(content.sizing, page_spring(content))


def torque_of(sizing: Sizing, shown: PageSpring | None) -> TorquePlot | None:
    """Return the torque curve of a spring in a barrel, beside that of the spring found there."""
    trace = _trace(sizing, shown)
    if trace is None:
        return None
    found = given_springs(sizing.result).get(RowKind.FOUND)
    return TorquePlot(
        spring=trace,
        compared=None if found == shown else _trace(sizing, found),
        hours_per_turn=sizing.result.watch.hours_per_turn,
    )


def _trace(sizing: Sizing, shown: PageSpring | None) -> TorqueTrace | None:
    """With a stopwork only the turns that it selects, each curve from its own first one."""
    if shown is None or shown.height is None or shown.length is None:
        return None
    acting = _sized(sizing, shown) if shown.figures else _listed(sizing, shown)
    if not fits(acting.spring):
        return None
    stopwork = sizing.inputs.arrangement.stopwork
    most = float(selected_turns(usable_turns(acting.spring), stopwork).turns)
    if most <= 0:
        return None
    turns = tuple(most * i / (_POINTS - 1) for i in range(_POINTS))
    low, high = (
        replace(acting.spring, full_wind_stress_mpa=mpa)
        for mpa in (acting.low_mpa, acting.high_mpa)
    )
    return TorqueTrace(
        name=shown.name,
        turns=turns,
        low_nmm=_torques(low, stopwork, turns),
        middle_nmm=_torques(acting.spring, stopwork, turns),
        high_nmm=_torques(high, stopwork, turns),
    )


def half_a_turn_on(sizing: Sizing, shown: PageSpring) -> tuple[float, float]:
    """Return between which torques in N mm a spring of the stock is, half a turn after full wind.

    As in ``sizing.measurement_model``: at the top of a stopwork that begins below that.
    """
    acting, stopwork = _listed(sizing, shown), sizing.inputs.arrangement.stopwork
    torques = []
    for mpa in (acting.low_mpa, acting.high_mpa):
        spring = replace(acting.spring, full_wind_stress_mpa=mpa)
        first = selected_turns(usable_turns(spring), stopwork).first
        torques.append(float(torque_after(spring, max(float(first), HALF_TURN))))
    return torques[0], torques[1]


def _torques(
    spring: SpringInBarrel, stopwork: Stopwork | None, turns: tuple[float, ...]
) -> tuple[float, ...]:
    return tuple(float(driving_torque(spring, stopwork, turn)) for turn in turns)


def _sized(sizing: Sizing, shown: PageSpring) -> _Acting:
    """A spring of the sizing, at the best values of all that it was sized from."""
    result, figures = sizing.result, shown.figures
    known: dict[str, float] = {e.label: e.value for e in result.inputs}
    if result.height is not None:
        known["height"] = result.height.value
    assert figures is not None and figures.length is not None
    known |= {
        f"{shown.label}.thickness": figures.thickness.value,
        f"{shown.label}.length": figures.length.value,
    }
    given = figures.height is not None
    if figures.height is not None:
        known[f"{shown.label}.height"] = figures.height.value
    spring = BarrelSprings(known, sizing.inputs, {shown.label: given})[shown.label]
    model = figures.torque_model
    full = model.torque_full if model else None
    stress = float(spring.full_wind_stress_mpa)
    stopwork = sizing.inputs.arrangement.stopwork
    if model is None or full is None or full.value <= 0 or stopwork is not None:
        own = model.stress_full if model else None
        low, high = (own.low, own.high) if own else (stress, stress)
        return _Acting(spring=spring, low_mpa=low, high_mpa=high)
    return _Acting(
        spring=spring,
        low_mpa=stress * full.low / full.value,
        high_mpa=stress * full.high / full.value,
    )


def _listed(sizing: Sizing, shown: PageSpring) -> _Acting:
    """A spring of the stock as the choice takes it: a length on the list counts the end."""
    assert shown.height is not None and shown.length is not None
    inputs = {e.label: e for e in sizing.result.inputs}
    known = {label: e.value for label, e in inputs.items()}
    material = material_named((shown.pick.spring.material if shown.pick else None) or OPEN)
    shared = material.is_definite and material.name == sizing.inputs.material.name
    spring = SpringInBarrel(
        bore_mm=known["bore"],
        arbor_mm=known["arbor"],
        thickness_mm=shown.thickness.value_mm,
        length_mm=shown.length.value_mm,
        height_mm=shown.height.value_mm,
        modulus_mpa=MPA_PER_GPA * known["modulus"] if shared else material.modulus_mpa,
        full_wind_stress_mpa=known["full_wind_stress"] if shared else material.healthy_mpa.median,
    )
    end = end_named(shown.end) if shown.end else sizing.inputs.arrangement.end
    if end is not None:
        spring = with_end(spring, end, length_includes_end=True)
    spring, stress = as_spiral(spring), inputs["full_wind_stress"]
    if shared:
        return _Acting(spring=spring, low_mpa=stress.low, high_mpa=stress.high)
    return _open(spring, material, sizing.result.coverage)


def _open(spring: SpringInBarrel, material: Material, coverage: float) -> _Acting:
    """As strong as healthy springs of its material are."""
    k = coverage_factor(coverage, math.inf)
    low, high = (float(material.healthy_mpa.at(deviate)) for deviate in (-k, k))
    return _Acting(spring=spring, low_mpa=low, high_mpa=high)
