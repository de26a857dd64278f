"""The sizing to first order once more, with the ``uncertainties`` package and other formulas.

Nothing here calls the package under test. Turns come from the radii of the bands, the
lengths of the thirds from their fill, so that a slip in one text is not copied.
"""

from __future__ import annotations

import math
from typing import Any

from uncertainties import ufloat, umath

PLACES = {"bore": 0.02, "depth": 0.02, "lid": 0.01, "recess": 0.02, "arbor": 0.04}


def barrel(values: dict[str, float], scale: float = 1.0) -> dict[str, Any]:
    """Return the barrel as independent variables; an unknown arbor follows the bore."""
    known = {name: ufloat(value, scale * PLACES[name]) for name, value in values.items()}
    if "arbor" not in known:
        third = values["bore"] / 3
        known["arbor"] = known["bore"] / 3 + ufloat(0, scale * 0.1 * third / math.sqrt(3))
    return known


def rules(known: dict[str, Any], wanted_turns: float | None = None) -> dict[str, tuple[Any, Any]]:
    """Return thickness and length by rule."""
    bore, arbor = known["bore"], known["arbor"]
    e = bore / 87
    ring = math.pi / 4 * (bore**2 - arbor**2)
    wall_third = math.pi * ((bore / 2) ** 2 - (bore / 3) ** 2)
    core_third = math.pi * ((arbor / 2 + bore / 6) ** 2 - (arbor / 2) ** 2)
    sized = {
        "ratio-30": (e, 30 * bore),
        "ratio-35": (e, 35 * bore),
        "half-area": (e, ring / 2 / e),
        "thirds-run-down": (e, wall_third / e),
        "thirds-wound": (e, core_third / e),
    }
    if wanted_turns is not None:
        common = umath.sqrt((bore**2 + arbor**2) / 2)
        thick = (common - (bore + arbor) / 2) / wanted_turns
        sized["wanted-turns"] = (thick, ring / 2 / thick)
    return sized


def consequences(known: dict[str, Any], e: Any, length: Any, hours: float) -> dict[str, Any]:
    """Return what a spring gives in the barrel, by name of the figure."""
    big, small = known["bore"] / 2, known["arbor"] / 2
    turns = _turns(big, small, e, length)
    area = length * e / math.pi
    return {
        "thickness": e,
        "length": length,
        "fill": area / (big**2 - small**2),
        "turns": turns,
        "turns_spiral": _turns(big - e / 2, small + e / 2, e, length),
        "coils_down": (big - umath.sqrt(big**2 - area)) / e,
        "coils_wound": (umath.sqrt(small**2 + area) - small) / e,
        "hours": hours * turns,
    }


def _turns(big: Any, small: Any, e: Any, length: Any) -> Any:
    area = length * e / math.pi
    return (umath.sqrt(small**2 + area) + umath.sqrt(big**2 - area) - small - big) / e
