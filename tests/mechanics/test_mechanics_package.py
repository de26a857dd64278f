"""The package as its neighbours see it: what it loads, and one text for both routes."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Mapping
from typing import Any

import pytest
from watch_springs import healthy, running

from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.torque import run_down
from gaugelink.uncertainty.estimate import quantity_from_typed
from gaugelink.uncertainty.evaluate import evaluate

MATERIAL = {"modulus_mpa": 215_000.0, "full_wind_stress_mpa": 2000.0}


def test_package_loads_no_numpy_by_itself() -> None:
    code = "from gaugelink.mechanics import materials, torque; import sys; "
    code += "materials.shipped_materials(); print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    loaded = set(done.stdout.split())
    assert "gaugelink.mechanics.torque" in loaded
    assert loaded & {"numpy", "scipy", "pint", "importlib.metadata"} == set()


def model(values: Mapping[str, Any]) -> dict[str, Any]:
    names = ("bore", "arbor", "thickness", "length", "height")
    spring = SpringInBarrel(**{f"{name}_mm": values[name] for name in names}, **MATERIAL)
    whole, day = run_down(spring), running(spring, 8.0)
    return {
        "turns_usable": whole.turns_usable,
        "energy": whole.energy_mj,
        "torque": day.full_wind_torque_nmm,
        "torque_day": day.torque_after_nmm,
    }


def test_first_order_and_monte_carlo_run_over_the_one_text() -> None:
    spring = healthy()
    inputs = [
        quantity_from_typed(name, float(getattr(spring, f"{name}_mm")), u)
        for name, u in (
            ("bore", 0.02),
            ("arbor", 0.03),
            ("thickness", 0.0015),
            ("length", 3.0),
            ("height", 0.01),
        )
    ]
    units = {"turns_usable": "1", "energy": "mJ", "torque": "N mm", "torque_day": "N mm"}
    evaluation = evaluate(model, inputs, units=units, draws=50_000, seed=2)
    for estimate, drawn in zip(evaluation.estimates, evaluation.distributions, strict=True):
        assert drawn.excluded_share == 0.0
        assert drawn.std == pytest.approx(estimate.u, rel=0.03), estimate.label
    # torque at full wind: h e^2, so two relative thicknesses and one height
    relative = evaluation["torque"].u / evaluation["torque"].value
    assert relative == pytest.approx(
        ((2 * 0.0015 / 0.12) ** 2 + (0.01 / 1.5) ** 2) ** 0.5, rel=1e-3
    )
