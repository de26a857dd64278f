"""What is said of a healthy new spring in three barrels, before and after its own strength.

    python tests/coverage/strength_table.py

The half-area spring: arbor a third of the bore, thickness bore / 87, fill a half, height bore / 9,
7.5 h a turn. "Before" is kept in ``strength_before.json`` with the commit that said it: torque and
turns of the torque model with the old bands of stress, coils as rings, and hours until the torque
ends, as it had none until the watch stops.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from gaugelink.mechanics.materials import OPEN, WHITE, material_named, shipped_materials
from gaugelink.sizing.inputs import SizingInputs, typed_input
from gaugelink.sizing.results import TorqueModel
from gaugelink.sizing.rules import HALF_AREA
from gaugelink.sizing.size_spring import size_spring
from gaugelink.uncertainty.estimate import Estimate

BORES_MM = (6.0, 11.0, 18.0)
BORES_PER_HEIGHT = 9.0
LID_MM, CLEARANCE_MM, HOURS_PER_TURN = 0.35, 0.10, 7.5
DRAWS = 200_000
BEFORE = Path(__file__).parent / "strength_before.json"
COLUMNS = ("torque_half_turn", "turns_usable", "hours", "loose_coils")
TITLES = ("torque ½ turn on / N mm", "usable turns", "hours", "loose coils")


def after(bore_mm: float, material: str, draws: int = DRAWS) -> TorqueModel:
    """Return what the product says of the half-area spring now."""
    inputs = SizingInputs(
        bore=typed_input("bore", bore_mm),
        arbor=typed_input("arbor", bore_mm / 3.0),
        depth=typed_input("depth", bore_mm / BORES_PER_HEIGHT + LID_MM + CLEARANCE_MM),
        lid=typed_input("lid", LID_MM),
        hours_per_turn=HOURS_PER_TURN,
        material=material_named(material),
    )
    rules = size_spring(inputs, draws=draws).rules
    model = next(each for each in rules if each.rule == HALF_AREA).figures.torque_model
    assert model is not None
    return model


def before() -> Mapping[tuple[float, str], Mapping[str, Any]]:
    """Return what was said before, by bore in mm and material."""
    kept = json.loads(BEFORE.read_text(encoding="utf-8"))
    return {(row["bore_mm"], row["material"]): row for row in kept["rows"]}


def lines() -> Iterator[str]:
    """Yield the table, a line each."""
    yield _row(["bore / mm", "material", "", *TITLES])
    yield _row(["---"] * (3 + len(TITLES)))
    known = before()
    for bore_mm in BORES_MM:
        for material in (*(each.name for each in shipped_materials()), WHITE, OPEN):
            said = known.get((bore_mm, material))
            told = [_kept(said, column) for column in COLUMNS]
            yield _row([f"{bore_mm:g}", material, "before", *told])
            model = after(bore_mm, material)
            yield _row(["", "", "after", *(_now(model, column) for column in COLUMNS)])


def _kept(said: Mapping[str, Any] | None, column: str) -> str:
    if said is None:
        return "no such class"
    return _said(*said["hours_usable" if column == "hours" else column])


def _now(model: TorqueModel, column: str) -> str:
    estimate = getattr(model, "hours_to_stop" if column == "hours" else column)
    assert isinstance(estimate, Estimate)
    return _said(estimate.value, estimate.low, estimate.high)


def _said(value: float, low: float, high: float) -> str:
    digits = 2 if value < 10.0 else 1
    return f"{value:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})"


def _row(cells: list[str]) -> str:
    return f"| {' | '.join(cells)} |"


def main() -> None:
    """Print the table."""
    print("\n".join(lines()))


if __name__ == "__main__":
    main()
