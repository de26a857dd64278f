"""Barrels for the sizing tests: reference data, random ones, and a healthy example (invented)."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from gaugelink.sizing.inputs import GivenSpring, SizingInputs, typed_input
from gaugelink.uncertainty.estimate import Quantity

REFERENCE = Path(__file__).parents[2] / "fixtures" / "reference"
DRAWS = 2_000  # intervals are not looked at closely where this is used


def reference(name: str) -> Any:
    return json.loads((REFERENCE / f"barrel_{name}.json").read_text(encoding="utf-8"))


def exact(label: str, value: float) -> Quantity:
    return typed_input(label, value, 0.0)


def spring(
    name: str, thickness: float, height: float | None = None, length: float | None = None
) -> GivenSpring:
    def part(which: str, value: float | None) -> Quantity | None:
        return None if value is None else typed_input(f"{name}.{which}", value)

    return GivenSpring(
        thickness=typed_input(f"{name}.thickness", thickness),
        height=part("height", height),
        length=part("length", length),
    )


def healthy(**changes: Any) -> SizingInputs:
    """Return inputs that raise neither error nor warning, with ``changes``."""
    fields: dict[str, Any] = {
        "bore": typed_input("bore", 11.0),
        "depth": typed_input("depth", 1.64),
        "lid": typed_input("lid", 0.31),
        "arbor": typed_input("arbor", 3.7),
        "found": spring("found", 0.125, 1.20, 340.0),
    }
    return SizingInputs(**{**fields, **changes})


@dataclass(frozen=True, slots=True, kw_only=True)
class Barrel:
    """A random barrel and spring, mm."""

    bore: float
    arbor: float
    thickness: float
    fill: float

    @property
    def length(self) -> float:
        ring = 3.141592653589793 * (self.bore**2 - self.arbor**2) / 4
        return self.fill * ring / self.thickness

    @property
    def sizes(self) -> tuple[float, float, float, float]:
        return self.bore, self.arbor, self.thickness, self.length


random_barrels = st.builds(
    lambda bore, k, ratio, fill: Barrel(
        bore=bore, arbor=k * bore, thickness=bore / ratio, fill=fill
    ),
    st.floats(3.0, 30.0),
    st.floats(0.2, 0.5),
    st.floats(70.0, 110.0),
    st.floats(0.2, 0.8),
)
