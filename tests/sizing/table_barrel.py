"""The barrel of the torque tables with nothing uncertain in it, and its spring.

The spring is a documented one: a document stands for a new spring, whose strength is that of
its material; a found one may have lost of it.

fixtures/reference/mechanics_torque.json: computed by torque_model.py there, not published.
"""

from __future__ import annotations

import json
from typing import Any

from alloys import alloy
from barrels import DRAWS, REFERENCE, exact

from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.sizing.inputs import GivenSpring, SizingInputs
from gaugelink.sizing.results import ComparedSpring, TorqueModel
from gaugelink.sizing.size_spring import size_spring

TABLES = json.loads((REFERENCE / "mechanics_torque.json").read_text(encoding="utf-8"))
BARREL = TABLES["barrel"]


def given(thickness: float, height: float, length: float) -> GivenSpring:
    return GivenSpring(
        thickness=exact("documented.thickness", thickness),
        height=exact("documented.height", height),
        length=exact("documented.length", length),
    )


def table_barrel(stress_mpa: float, length_mm: float, **changes: Any) -> SizingInputs:
    """The barrel of the reference tables with nothing uncertain in it."""
    fields: dict[str, Any] = {
        "bore": exact("bore", BARREL["bore_mm"]),
        "arbor": exact("arbor", BARREL["arbor_mm"]),
        "documented": given(BARREL["thickness_mm"], BARREL["height_mm"], length_mm),
        "hours_per_turn": 8.0,
        "material": alloy(stress_mpa),
    }
    return SizingInputs(**{**fields, **changes})


def found_model(inputs: SizingInputs, **wishes: Any) -> TorqueModel:
    return _model(size_spring(inputs, **{"draws": DRAWS, **wishes}).found)


def table_model(inputs: SizingInputs, **wishes: Any) -> TorqueModel:
    return _model(size_spring(inputs, **{"draws": DRAWS, **wishes}).documented)


def _model(spring: ComparedSpring | None) -> TorqueModel:
    assert spring is not None
    assert spring.figures.torque_model is not None
    return spring.figures.torque_model


def value(estimate: Any) -> float:
    assert estimate is not None
    return float(estimate.value)


def table_spring(stress_mpa: float) -> SpringInBarrel:
    """That spring with its coils as closed rings."""
    return SpringInBarrel(
        bore_mm=11.0,
        arbor_mm=BARREL["arbor_mm"],
        thickness_mm=0.12,
        length_mm=351.974676,
        height_mm=1.5,
        modulus_mpa=215_000.0,
        full_wind_stress_mpa=stress_mpa,
    )
