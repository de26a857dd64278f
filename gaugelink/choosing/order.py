"""What to order: the size that the barrel should have, in the steps of the trade."""

from __future__ import annotations

import math

from gaugelink.choosing.case import Case
from gaugelink.choosing.loss import FREE_BELOW_MM, FREE_LENGTH
from gaugelink.choosing.measures import THICKNESS_EXPONENT, ring_mm2
from gaugelink.choosing.results import Order, Range
from gaugelink.choosing.strip import HEIGHT_MM
from gaugelink.uncertainty.conformity import guard_band

HEIGHT_STEP_MM = 0.05  # 0.1, and 0.05 in small sizes: from memory
LENGTH_STEP_MM = 10.0  # common practice
# Hundredths, and half of that in small sizes: from memory; where small ends is judgement.
THICKNESS_STEPS_MM = ((0.15, 0.005), (math.inf, 0.01))
TORQUE_EITHER_WAY = 1.10
_ROUNDING = 1e-6


def what_to_order(case: Case) -> Order:
    """Return the size to order, with what would do as well."""
    thickness = _thickness(float(case.known.best.thickness_mm))
    end = case.watch.end
    return Order(
        height=_height(case),
        thickness=thickness,
        length=_length(case, thickness.target),
        end=None if end is None else end.name,
    )


def _height(case: Case) -> Range | None:
    """Highest step that surely fits, no higher than the reference: ISO 14253-1 guard band."""
    limit, reference = case.known.best.limit_mm, case.known.best.height_mm
    if limit is None:
        return None
    u = math.hypot(case.known.u("limit_mm"), HEIGHT_MM / math.sqrt(3))
    most = float(limit) - guard_band(u, dof=case.known.limit_dof)
    if reference is not None:
        most = min(most, float(reference))
    target = _down(most, HEIGHT_STEP_MM)
    return Range(target=target, low=_down(target - FREE_BELOW_MM, HEIGHT_STEP_MM), high=target)


def _thickness(wanted_mm: float) -> Range:
    """Nearest step, the thinner of two alike, and the steps within a tenth of the torque."""
    step = next(step for below, step in THICKNESS_STEPS_MM if wanted_mm < below)
    target = step * max(1, math.ceil(wanted_mm / step - 0.5 - _ROUNDING))
    either = TORQUE_EITHER_WAY ** (1 / THICKNESS_EXPONENT)
    return Range(
        target=round(target, 4),
        low=min(target, _up(wanted_mm / either, step)),
        high=max(target, _down(wanted_mm * either, step)),
    )


def _length(case: Case, thickness_mm: float) -> Range:
    wanted = case.zone.target * float(ring_mm2(case.known.best)) / thickness_mm
    target = LENGTH_STEP_MM * max(1, round(wanted / LENGTH_STEP_MM))
    return Range(
        target=target,
        low=min(target, _up(wanted * (1 - FREE_LENGTH), LENGTH_STEP_MM)),
        high=max(target, _down(wanted * (1 + FREE_LENGTH), LENGTH_STEP_MM)),
    )


def _down(size_mm: float, step_mm: float) -> float:
    return round(step_mm * math.floor(size_mm / step_mm + _ROUNDING), 4)


def _up(size_mm: float, step_mm: float) -> float:
    return round(step_mm * math.ceil(size_mm / step_mm - _ROUNDING), 4)
