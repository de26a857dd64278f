"""Ways in which the oracle may treat suspicious readings, for many series at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from parts import Array

Mask: TypeAlias = npt.NDArray[np.bool_]
Keep: TypeAlias = Callable[[Array, float], Mask]

# A reading that lies this near the median is never left out: in display steps.
NEAR_STEPS = 3.0
LEAST_DEVIATION_STEPS = 0.35  # the median deviation of a display that never moved


@dataclass(frozen=True, slots=True, kw_only=True)
class Cleaning:
    """One way: its name, and which readings of (series x readings) it keeps at a step."""

    name: str
    keep: Keep


def _keep_all(readings: Array, _step_mm: float) -> Mask:
    return np.ones(readings.shape, dtype=np.bool_)


def _keep_near_median(readings: Array, step_mm: float, limit: float) -> Mask:
    """Leave out what is farther from the median than ``limit`` median deviations.

    F. R. Hampel, Technometrics 27 (1985) 95-107 (from memory); the display step is a floor.
    """
    far = np.abs(readings - np.median(readings, axis=1, keepdims=True))
    deviation = np.maximum(np.median(far, axis=1, keepdims=True), LEAST_DEVIATION_STEPS * step_mm)
    return np.asarray(far <= np.maximum(NEAR_STEPS * step_mm, limit * deviation))


CLEANINGS = (
    Cleaning(name="all readings", keep=_keep_all),
    *(
        Cleaning(name=f"within {limit:g}", keep=partial(_keep_near_median, limit=limit))
        for limit in (3.0, 5.0, 10.0, 20.0)
    ),
)
