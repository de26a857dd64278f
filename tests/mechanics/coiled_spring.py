"""A coiled spring measured in every way, all of which agree; invented."""

from __future__ import annotations

from dataclasses import replace

from gaugelink.mechanics.found_length import CLOSE, LengthClues
from gaugelink.uncertainty.estimate import Quantity, quantity_from_typed


def clue(label: str, value: float, u: float) -> Quantity:
    return quantity_from_typed(label, value, u)


CLUES = LengthClues(
    thickness=clue("found.thickness", 0.12, 0.002),
    height=clue("found.height", 1.5, 0.01),
    bore=clue("bore", 11.0, 0.02),
    mass=clue("mass", 525.9, 1.0),
    density=clue("density", 8.3, 0.083),
    band_inside=clue("band", 8.199, 0.05),
    coils=clue("coils", 11.672, 0.15),
    core=clue("core", 5.0, 0.02),
    wound_outside=clue("outside", 8.882, 0.05),
    core_coils=clue("core coils", 16.18, 0.15),
    packing=CLOSE,
)
ONLY_WALL = replace(CLUES, mass=None, core=None)
