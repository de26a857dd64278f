"""What the torque model says, as JSON data: part of the contract of ``size --json``."""

from __future__ import annotations

from collections.abc import Sequence

from gaugelink.model import Advice
from gaugelink.report.figures_contract import Json, band_json, optional_json
from gaugelink.sizing.results import Foreseen, Motion, RatioInterval, TorqueModel

_FIGURES = (
    "turns_usable",
    "turns_working",
    "hours_usable",
    "torque_full",
    "torque_kept",
    "energy",
    "loose_coils",
    "stress_range",
    "crown_turns",
)


def mechanics_json(model: TorqueModel | None) -> Json | None:
    """Return the torque model's figures of one spring; null where it has not run."""
    if model is None:
        return None
    return {
        **{name: optional_json(getattr(model, name)) for name in _FIGURES},
        "amplitude": _foreseen_json(model.foreseen),
        "warnings": advice_json(model.warnings),
    }


def ratio_json(ratio: RatioInterval | None) -> Json | None:
    """Return a torque ratio: its limits at the best values, and their whole interval."""
    if ratio is None:
        return None
    return {**(band_json(ratio.band) or {}), "interval": band_json(ratio.whole)}


def motion_json(motion: Motion | None) -> Json | None:
    """Return the measured amplitude, what it calls for, and what a wished one takes."""
    if motion is None:
        return None
    wished = motion.wished
    return {
        "amplitude": motion.measured.amplitude_deg,
        "position": motion.measured.position.value,
        "wind": motion.measured.wind.value,
        "advice": advice_json(motion.advice),
        "wished_amplitude": motion.wished_deg,
        "wished_torque_ratio": band_json(wished.torque_ratio) if wished else None,
        "wished_thickness": band_json(wished.thickness_mm) if wished else None,
    }


def advice_json(advice: Sequence[Advice]) -> list[Json]:
    """Return advice with its stable codes."""
    return [{"code": each.code, "text": each.text} for each in advice]


def _foreseen_json(foreseen: Foreseen | None) -> Json | None:
    if foreseen is None:
        return None
    return {
        "low": foreseen.low_deg,
        "high": foreseen.high_deg,
        "may_knock": foreseen.may_knock,
        "will_knock": foreseen.will_knock,
        "extrapolated": foreseen.extrapolated,
        "advice": advice_json(foreseen.advice),
    }
