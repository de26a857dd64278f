"""Springs for the mechanics tests: reference data, random ones, a healthy example (invented)."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from gaugelink.mechanics.band import Number
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.stopwork import DAY_H
from gaugelink.mechanics.torque import torque_after, usable_turns

REFERENCE = Path(__file__).parents[2] / "fixtures" / "reference"


def reference(name: str) -> Any:
    return json.loads((REFERENCE / f"mechanics_{name}.json").read_text(encoding="utf-8"))


HEALTHY = SpringInBarrel(
    bore_mm=11.0,
    arbor_mm=11 / 3,
    thickness_mm=0.12,
    length_mm=351.974676,
    height_mm=1.5,
    modulus_mpa=215_000.0,
    full_wind_stress_mpa=2000.0,
)


def healthy(**changes: Any) -> SpringInBarrel:
    return replace(HEALTHY, **changes)


def of_fill(fill: float, **changes: Any) -> SpringInBarrel:
    """The healthy spring with ``changes``, as long as covers a part of the ring."""
    spring = healthy(**changes)
    ring = math.pi * (spring.bore_mm**2 - spring.arbor_mm**2) / 4
    return replace(spring, length_mm=fill * ring / spring.thickness_mm)


def stack(springs: list[SpringInBarrel]) -> SpringInBarrel:
    """One spring whose fields are arrays over the given ones."""
    import numpy as np

    names = SpringInBarrel.__dataclass_fields__
    columns: dict[str, Any] = {
        name: np.array([getattr(spring, name) for spring in springs]) for name in names
    }
    return SpringInBarrel(**columns)


def item(spring: SpringInBarrel, index: int) -> SpringInBarrel:
    """The one spring at a place in the arrays."""
    names = SpringInBarrel.__dataclass_fields__
    return SpringInBarrel(**{name: float(getattr(spring, name)[index]) for name in names})


@st.composite
def random_springs(draw: st.DrawFn, *, least_stress: float = 300.0) -> SpringInBarrel:
    """Any spring from limp to so stiff that it is still tense on the wall."""
    bore = draw(st.floats(3.0, 30.0))
    return of_fill(
        draw(st.floats(0.05, 0.95)),
        bore_mm=bore,
        arbor_mm=bore * draw(st.floats(0.15, 0.6)),
        thickness_mm=bore / draw(st.floats(40.0, 130.0)),
        height_mm=draw(st.floats(0.5, 5.0)),
        modulus_mpa=1000 * draw(st.floats(190.0, 230.0)),
        full_wind_stress_mpa=draw(st.floats(least_stress, 8000.0)),
    )


def torque_per_turn_nmm(spring: SpringInBarrel) -> Number:
    """Torque lost per barrel turn while every coil hangs free: 2 pi E I / L, pure bending."""
    return 2 * math.pi * spring.rigidity_nmm2 / spring.length_mm


def nominal_stress_mpa(torque_nmm: Number, height_mm: Number, thickness_mm: Number) -> Number:
    """The bending stress at the surface, as if all were elastic: 6 M / (h e^2)."""
    return 6 * torque_nmm / (height_mm * thickness_mm**2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """What a spring does in a train.

    ``power_reserve_h`` is from full wind until the torque ends, an upper limit: a watch
    stops before. ``torque_kept`` is torque after ``after_h`` over torque at full wind,
    zero for a spring that has run down by then.
    """

    power_reserve_h: Number
    after_h: float
    full_wind_torque_nmm: Number
    torque_after_nmm: Number
    torque_kept: Number


def running(spring: SpringInBarrel, hours_per_turn: Number, *, after_h: float = DAY_H) -> Running:
    """Compute power reserve in h and torque in N mm, at full wind and some hours later.

    Args:
        spring: one spring or many.
        hours_per_turn: hours that one barrel turn lasts, above 0.
        after_h: the hours later, 0 or more.
    """
    full = spring.full_wind_torque_nmm
    after = torque_after(spring, after_h / hours_per_turn)
    return Running(
        power_reserve_h=usable_turns(spring) * hours_per_turn,
        after_h=after_h,
        full_wind_torque_nmm=full,
        torque_after_nmm=after,
        torque_kept=after / full,
    )
