"""How well a gauge repeats, as far as that is known before a part is measured.

A finer display does not make the hand steadier: a hand-held caliper repeats to about
0.01 mm and a micrometer to about 0.001 mm, one step of their usual displays (common
practice), whatever the last digit is. A check of the gauge may find more.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from gaugelink.gauge_record import GaugeRecord, Repeatability
from gaugelink.model import GaugeKind

REPEATS_TO_MM: Mapping[GaugeKind, float] = {GaugeKind.CALIPER: 0.01, GaugeKind.MICROMETER: 0.001}


def repeats_to_mm(kind: GaugeKind, step_mm: float, record: GaugeRecord | None = None) -> float:
    """Return the largest standard deviation in mm that a sound gauge is expected to show.

    Args:
        kind: what the gauge is.
        step_mm: its display step, > 0.
        record: what is known of it; the scatter of its last check counts where it is larger.

    >>> repeats_to_mm(GaugeKind.MICROMETER, 0.0001)
    0.001
    """
    check = record.last_check if record else None
    found_mm = check.repeatability.std_mm if check else 0.0
    return max(step_mm, REPEATS_TO_MM[kind], found_mm)


def checked_repeatability(step_mm: float, record: GaugeRecord | None) -> Repeatability | None:
    """Return the scatter in mm that the last check of a gauge found; None without one.

    A display that never moved in its check still hides step / sqrt(12).

    Args:
        step_mm: display step of the readings, > 0.
        record: what is known of the gauge.
    """
    check = record.last_check if record else None
    if check is None:
        return None
    found = check.repeatability
    return Repeatability(std_mm=max(found.std_mm, step_mm / math.sqrt(12.0)), dof=found.dof)
