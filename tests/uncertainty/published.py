"""Published examples under fixtures/reference, each file with its source and clause."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term, rectangular

FOLDER = Path(__file__).parents[2] / "fixtures" / "reference"


def load(name: str) -> Any:
    return json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))


def dof_of(entry: dict[str, Any]) -> float:
    return math.inf if entry["dof"] is None else float(entry["dof"])


def single(label: str, value: float, u: float, shape: Shape = Shape.NORMAL) -> Quantity:
    """A quantity with one influence of its own."""
    influence = Influence(label=f"e({label})", kind="B", u=u, shape=shape)
    return Quantity(label=label, value=value, terms=(Term(influence=influence),))


def mass_model(x: Mapping[str, Any]) -> dict[str, Any]:
    """JCGM 101:2008, 9.3.1: deviation of a mass from 100 g, in mg."""
    buoyancy = (x["rho_a"] - 1.2) * (1 / x["rho_W"] - 1 / x["rho_R"])
    return {"dm": (x["m_Rc"] + x["dm_Rc"]) * (1 + buoyancy) - 100000.0}


def mass_quantities() -> list[Quantity]:
    return [
        single(
            x["label"], x["value"], x.get("u") or rectangular(x["half_width"]), Shape(x["shape"])
        )
        for x in load("gum_s1_mass")["inputs"]
    ]
