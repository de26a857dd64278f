"""Published examples under fixtures/reference, each file with its source and clause."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term, rectangular
from gaugelink.uncertainty.first_order import LinearOutput

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


def correlation(first: LinearOutput, second: LinearOutput) -> float:
    """Return the correlation coefficient of two outputs of one model, -1 to 1.

    r = sum(c_1i c_2i u_i^2) / (u_1 u_2): GUM F.1.2.3, two quantities that depend on
    the same independent ones. An output without uncertainty correlates with nothing: 0.

    Raises:
        ValueError: the outputs come from different runs.
    """
    if [row.influence for row in first.rows] != [row.influence for row in second.rows]:
        raise ValueError("the two outputs do not come from one run")
    if first.u == 0.0 or second.u == 0.0:
        return 0.0
    covariance = math.fsum(
        a.sensitivity * b.sensitivity * a.u * a.u
        for a, b in zip(first.rows, second.rows, strict=True)
    )
    return covariance / (first.u * second.u)
