"""Single figures as JSON data: estimates, bands, numbers that may be infinite."""

from __future__ import annotations

import math
from typing import Any, TypeAlias

from gaugelink.mechanics.band import Band
from gaugelink.uncertainty.estimate import Estimate

Json: TypeAlias = dict[str, Any]


def estimate_json(estimate: Estimate) -> Json:
    """Return an estimate as JSON data."""
    return {
        "value": estimate.value,
        "u": estimate.u,
        "dof": finite(estimate.dof),
        "unit": estimate.unit,
        "low": estimate.low,
        "high": estimate.high,
    }


def optional_json(estimate: Estimate | None) -> Json | None:
    """Return an estimate as JSON data, null where there is none."""
    return None if estimate is None else estimate_json(estimate)


def band_json(band: Band | None) -> Json | None:
    """Return the two limits as JSON data, null where there are none."""
    return None if band is None else {"low": float(band.low), "high": float(band.high)}


def finite(number: float) -> float | None:
    """Return a number, or None for infinity, which JSON has not."""
    return number if math.isfinite(number) else None
