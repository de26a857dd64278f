"""Published reference sets, and series made from plain numbers."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from gaugelink.model import Advice, Reading, Series
from gaugelink.units import LengthUnit

_REFERENCE = Path(__file__).parents[2] / "fixtures" / "reference"


def load(name: str) -> dict[str, Any]:
    """Read one reference set; each file names its source."""
    data: dict[str, Any] = json.loads((_REFERENCE / name).read_text(encoding="utf-8"))
    return data


def strd_values(entry: dict[str, Any]) -> list[float]:
    """Return the readings of a StRD set, spelled out where the file gives the rule."""
    if "values" in entry:
        return [float(x) for x in entry["values"]]
    return [float(entry["first"]), *map(float, entry["pair"] * entry["then_pairs"])]


def series(values_mm: Sequence[float], *steps_mm: float) -> Series:
    """Build a series; one step for all readings, or one for each."""
    steps = steps_mm if len(steps_mm) == len(values_mm) else steps_mm * len(values_mm)
    return Series(
        measurand="bore",
        gauge_id="test",
        readings=tuple(
            Reading(value_mm=value, resolution_mm=step, displayed="", unit=LengthUnit.MM, raw=b"")
            for value, step in zip(values_mm, steps, strict=True)
        ),
    )


def codes(advice: Sequence[Advice]) -> list[str]:
    """Return the stable codes of some advice."""
    return [item.code for item in advice]
