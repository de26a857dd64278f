"""The shape of ``size --json``, and where data is not of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

# One shape per kind of object. A tuple of types is a choice; a list holds one shape.
NUMBER, MAYBE = float, (float, type(None))
ESTIMATE = {"value": NUMBER, "u": NUMBER, "dof": MAYBE, "unit": str, "low": NUMBER, "high": NUMBER}
MAYBE_ESTIMATE = (ESTIMATE, type(None))
ADVICE = {"code": str, "text": str}
BAND = {"low": NUMBER, "high": NUMBER}
MAYBE_BAND = (BAND, type(None))
FORESEEN = {
    **BAND,
    **dict.fromkeys(("may_knock", "will_knock", "extrapolated"), bool),
    "advice": [ADVICE],
}
AT_FUSEE = {
    **dict.fromkeys(("top", "bottom"), MAYBE_ESTIMATE),
    **dict.fromkeys(("evenness", "best_set_up", "best_evenness", "spare_turns"), ESTIMATE),
}
MECHANICS = {
    **dict.fromkeys(("turns_usable", "loose_coils", "stress_range", "stress_full"), ESTIMATE),
    **dict.fromkeys(("turns_working", "hours_usable", "torque_full"), MAYBE_ESTIMATE),
    **dict.fromkeys(("torque_kept", "energy", "crown_turns"), MAYBE_ESTIMATE),
    **dict.fromkeys(("torque_half_turn", "hours_to_stop"), MAYBE_ESTIMATE),
    "amplitude": (FORESEEN, type(None)),
    "fusee": (AT_FUSEE, type(None)),
    "upper_limit": bool,
    "warnings": [ADVICE],
}
FIGURES = {
    "height": MAYBE_ESTIMATE,
    "thickness": ESTIMATE,
    **dict.fromkeys(("length", "fill", "turns", "turns_spiral"), MAYBE_ESTIMATE),
    **dict.fromkeys(("coils_down", "coils_wound", "hours"), MAYBE_ESTIMATE),
    "turns_usable": MAYBE_ESTIMATE,
    "mechanics": (MECHANICS, type(None)),
}
RULE = {"rule": str, "basis": str, **FIGURES}
RATIO = ({**BAND, "interval": BAND}, type(None))
DISTANCE = {"rule": str, "output": str, "difference": NUMBER, "u": NUMBER, "in_u": MAYBE}
COMPARED = {
    **FIGURES,
    "torque_ratio": (BAND, type(None)),
    "torque_at_limit": MAYBE_ESTIMATE,
    "torque_of_equal_shape": MAYBE_ESTIMATE,
    "torque_reference": str,
    "ratio_full_wind": RATIO,
    "ratio_after_24h": RATIO,
    "distances": [DISTANCE],
}
FOUND = {**COMPARED, "new_over_found": RATIO}
BUDGET_ROW = {
    "output": str,
    "input": str,
    "kind": str,
    "u": NUMBER,
    "dof": MAYBE,
    "sensitivity": NUMBER,
    "contribution": NUMBER,
    "share": NUMBER,
}
DISAGREEMENT = {
    "output": str,
    "low_difference": NUMBER,
    "high_difference": NUMBER,
    "tolerance": NUMBER,
}
SOURCED = {**BAND, "source": str, "from_memory": bool}
MAYBE_TEXT = (str, type(None))
CHAIN = {
    **dict.fromkeys(("length", "barrel_turns", "turns", "set_up"), ESTIMATE),
    "hours_per_turn": MAYBE,
}
MATERIAL = {
    "name": str,
    "title": str,
    **dict.fromkeys(("modulus_gpa", "density_g_cm3", "yield_mpa", "full_wind_stress_mpa"), SOURCED),
}
ARRANGEMENT = {
    "barrel": str,
    "winding": str,
    "stopwork": ({"turns": NUMBER, "set_up_turns": NUMBER}, type(None)),
    "end": ({"name": str, "title": str}, type(None)),
    "length_includes_end": bool,
    "material": MATERIAL,
    "found_material": (MATERIAL, type(None)),
    "train": MAYBE_TEXT,
    "hours_per_turn": MAYBE,
    "winding_train": MAYBE_TEXT,
    "fusee": (CHAIN, type(None)),
    "refused": [{"asked": str, "reason": str, "hint": str}],
}
MOTION = {
    "amplitude": NUMBER,
    "position": str,
    "wind": str,
    "advice": [ADVICE],
    "wished_amplitude": MAYBE,
    "wished_torque_ratio": MAYBE_BAND,
    "wished_thickness": MAYBE_BAND,
}
FOUND_LENGTH = {
    "value": NUMBER,
    "u": NUMBER,
    "unit": str,
    "methods": [{"method": str, "value": NUMBER, "u": NUMBER, "weight": NUMBER}],
    "chi_squared": MAYBE,
    "advice": [ADVICE],
}
STRENGTH = {
    "used": [str],
    **dict.fromkeys(("u_part", "u_part_unseen", "p_tired"), NUMBER),
    **{key: [NUMBER] for key in ("healthy_loose_coils", "healthy_free_per_bore")},
    "next": [{"sign": str, "u_part": NUMBER}],
}
FINDING = {
    "text": str,
    "strength": (STRENGTH, type(None)),
    "ask": str,
    "questions": [
        {
            "question": str,
            "leaning": str,
            "text": str,
            "clues": [{"code": str, "seen": str, "speaks": str, "basis": str}],
        }
    ],
}
ORDER = {
    **dict.fromkeys(("height", "height_below"), MAYBE),
    **dict.fromkeys(("thickness", "length"), NUMBER),
    **dict.fromkeys(("end", "material"), MAYBE_TEXT),
}
WILL_DO = {"height": ([NUMBER], type(None)), "thickness": [NUMBER], "length": [NUMBER]}
RECOMMENDATION = {
    "order": (ORDER, type(None)),
    "will_do": (WILL_DO, type(None)),
    "take": type(None),
    **dict.fromkeys(("basis", "height_from"), MAYBE_TEXT),
    "rests_on": str,
    **dict.fromkeys(("play", "probability_goes_in"), MAYBE),
    **dict.fromkeys(("turns_usable", "hours_to_stop"), MAYBE_ESTIMATE),
    "torque_of_found": ([NUMBER], type(None)),
    "sure": str,
    "stops": [dict.fromkeys(("name", "text", "settle"), str)],
    **{name: [str] for name in ("accepted", "check")},
    "measure_next": [dict.fromkeys(("input", "why"), str)],
    "text": str,
}
SIZE = {
    "schema": int,
    "coverage": NUMBER,
    "interval_method": str,
    "inputs": Mapping,
    "recommendation": RECOMMENDATION,
    "height": MAYBE_ESTIMATE,
    "rules": [RULE],
    "found": (FOUND, type(None)),
    "documented": (COMPARED, type(None)),
    "budget": [BUDGET_ROW],
    "warnings": [ADVICE],
    "arrangement": ARRANGEMENT,
    "motion": (MOTION, type(None)),
    "found_length": (FOUND_LENGTH, type(None)),
    "finding": (FINDING, type(None)),
    "draws": int,
    "seed": int,
    "disagreements": [DISAGREEMENT],
}


def differences(data: Any, shape: Any, place: str = "$") -> list[str]:
    """Where ``data`` is not of ``shape``; keys must be those of the shape exactly."""
    if isinstance(shape, tuple):
        choices = [differences(data, choice, place) for choice in shape]
        return [] if [] in choices else min(choices, key=len)
    if isinstance(shape, list):
        if not isinstance(data, list):
            return [f"{place} is no list"]
        return [d for i, x in enumerate(data) for d in differences(x, shape[0], f"{place}[{i}]")]
    if isinstance(shape, dict):
        if not isinstance(data, dict) or data.keys() != shape.keys():
            return [f"{place} has keys {sorted(data) if isinstance(data, dict) else data!r}"]
        return [d for key in shape for d in differences(data[key], shape[key], f"{place}.{key}")]
    return [] if isinstance(data, shape) else [f"{place} is {data!r}"]
