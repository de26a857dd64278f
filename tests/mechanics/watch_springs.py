"""Springs for the mechanics tests: reference data, random ones, a healthy example (invented)."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from gaugelink.mechanics.spring import SpringInBarrel

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
