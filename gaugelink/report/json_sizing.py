"""A sizing as JSON that other programs may rely on: extended over time, never renamed.

What a key is called is what the attribute is called, unless it is here in full. An
infinite number, which JSON has not, is null, and so is what is not known.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any, TypeAlias

from gaugelink.mechanics.band import Band
from gaugelink.mechanics.materials import Material
from gaugelink.model import Advice
from gaugelink.sizing import results
from gaugelink.sizing.covered import NotCovered
from gaugelink.uncertainty.estimate import BudgetRow, Estimate
from gaugelink.uncertainty.evaluate import INTERVAL_METHOD

if TYPE_CHECKING:
    from gaugelink.mechanics.found_length import FoundLength
    from gaugelink.mechanics.strength import FoundStrength
    from gaugelink.recommending.recommend import Recommendation

Json: TypeAlias = dict[str, Any]

SCHEMA = 1
_FIGURES = (
    *("height", "thickness", "length", "fill", "turns", "turns_spiral", "turns_usable"),
    *("coils_down", "coils_wound", "hours"),
)
_OF_TORQUE = (
    *("turns_usable", "turns_working", "hours_usable", "torque_full", "torque_kept", "energy"),
    *("loose_coils", "stress_range", "crown_turns", "stress_full", "torque_half_turn"),
    *("hours_to_stop",),
)
_PROPERTIES = ("modulus_gpa", "density_g_cm3", "yield_mpa", "full_wind_stress_mpa")


def size_json(result: results.SizeResult) -> Json:
    """Return a sizing result as JSON data."""
    from gaugelink.recommending.recommend import recommend

    return {
        "schema": SCHEMA,
        **intervals_json(result.coverage),
        "inputs": {e.label: estimate_json(e) for e in result.inputs},
        "recommendation": recommendation_json(recommend(result)),
        "height": optional_json(result.height),
        "rules": [
            {**named(rule, "rule", "basis"), **_figures(rule.figures)} for rule in result.rules
        ],
        "found": _found(result.found),
        "documented": _compared(result.documented),
        "budget": [_budget_row(row) for row in result.budget],
        "warnings": [named(each, "code", "text") for each in result.warnings],
        "arrangement": _arrangement(result.watch, result.refused),
        "motion": _motion(result.motion),
        "found_length": _found_length(result.found_length),
        "finding": _finding(result.finding),
        "draws": result.draws,
        "seed": result.seed,
        "disagreements": [
            named(each, "output", "low_difference", "high_difference", "tolerance")
            for each in result.disagreements
        ],
    }


def intervals_json(coverage: float) -> Json:
    """Return what ``low`` and ``high`` of every estimate are, as JSON data."""
    return {"coverage": coverage, "interval_method": INTERVAL_METHOD}


def recommendation_json(answer: Recommendation) -> Json:
    """Return the one answer as JSON data; sizes in mm."""
    order, take = answer.order, answer.take
    height = None if order is None or order.height_is_cap else order.height
    return {
        "order": order
        and {
            "height": height and height.target,
            "height_below": order.height.target if order.height and order.height_is_cap else None,
            "thickness": order.thickness.target,
            "length": order.length.target,
            **named(order, "end", "material"),
        },
        "will_do": order
        and {
            "height": height and [height.low, height.high],
            "thickness": [order.thickness.low, order.thickness.high],
            "length": [order.length.low, order.length.high],
        },
        "take": take
        and {
            "item": take.item,
            "height": take.height_mm,
            "thickness": take.thickness_mm,
            "length": take.length_mm,
            "cut_to": take.cut_to_mm,
            "probability_goes_in": take.probability_goes_in,
            "torque_ratio": {"low": take.torque_low, "high": take.torque_high},
            "ties": list(take.ties),
        },
        "basis": order and order.basis.value,
        "height_from": order and order.height_from.value,
        "rests_on": answer.rests_on,
        "play": answer.play,
        "probability_goes_in": answer.goes_in,
        "turns_usable": optional_json(answer.turns),
        "hours_to_stop": optional_json(answer.hours),
        "torque_of_found": answer.torque_of_found and list(answer.torque_of_found),
        "sure": answer.sure,
        "stops": [named(each, "name", "text", "settle") for each in answer.stops],
        "accepted": list(answer.accepted),
        "check": list(answer.check),
        "measure_next": [named(each, "input", "why") for each in answer.next],
        "text": answer.text,
    }


def named(thing: object, *names: str) -> Json:
    """Return attributes under their own names."""
    return {name: getattr(thing, name) for name in names}


def estimate_json(estimate: Estimate) -> Json:
    """Return an estimate as JSON data."""
    dof = {"dof": finite(estimate.dof)}
    return {**named(estimate, "value", "u"), **dof, **named(estimate, "unit", "low", "high")}


def optional_json(estimate: Estimate | None) -> Json | None:
    """Return an estimate as JSON data, null where there is none."""
    return None if estimate is None else estimate_json(estimate)


def band_json(band: Band | None) -> Json | None:
    """Return the two limits as JSON data, null where there are none."""
    return None if band is None else {"low": float(band.low), "high": float(band.high)}


def advice_json(advice: Iterable[Advice]) -> list[Json]:
    """Return advice with its stable codes."""
    return [named(each, "code", "text") for each in advice]


def finite(number: float) -> float | None:
    """Return a number, or None for infinity."""
    return number if math.isfinite(number) else None


def _figures(figures: results.SpringFigures) -> Json:
    return {
        **{name: optional_json(getattr(figures, name)) for name in _FIGURES},
        "mechanics": _mechanics(figures.torque_model),
    }


def _compared(spring: results.ComparedSpring | None) -> Json | None:
    if spring is None:
        return None
    return {
        **_figures(spring.figures),
        "torque_ratio": band_json(spring.torque_ratio),
        "torque_at_limit": optional_json(spring.torque_at_limit),
        "torque_of_equal_shape": optional_json(spring.torque_of_equal_shape),
        "torque_reference": spring.torque_reference,
        "ratio_full_wind": _ratio(spring.ratio_full),
        "ratio_after_24h": _ratio(spring.ratio_day),
        "distances": [
            {**named(each, "rule", "output", "difference", "u"), "in_u": finite(each.in_u)}
            for each in spring.distances
        ],
    }


def _found(spring: results.ComparedSpring | None) -> Json | None:
    """The found spring; ``new_over_found`` is its ratio to the reference the other way round."""
    compared = _compared(spring)
    if spring is not None and compared is not None:
        full = spring.ratio_full
        compared["new_over_found"] = None if full is None else _ratio(full.turned)
    return compared


def _budget_row(row: BudgetRow) -> Json:
    return {
        "output": row.output,
        "input": row.influence,
        **named(row, "kind", "u"),
        "dof": finite(row.dof),
        **named(row, "sensitivity", "contribution", "share"),
    }


def _mechanics(model: results.TorqueModel | None) -> Json | None:
    """The torque model's figures of one spring; null where it has not run."""
    if model is None:
        return None
    return {
        **{name: optional_json(getattr(model, name)) for name in _OF_TORQUE},
        "amplitude": _foreseen(model.foreseen),
        "fusee": _estimates(model.fusee),
        "upper_limit": model.upper_limit,
        "warnings": advice_json(model.warnings),
    }


def _estimates(part: results.AtFusee | results.FuseeChain | None) -> Json | None:
    """All that is known at the fusee, or of its chain."""
    if part is None:
        return None
    known = {each.name: getattr(part, each.name) for each in fields(part)}
    return {
        name: estimate_json(value) if isinstance(value, Estimate) else value
        for name, value in known.items()
    }


def _ratio(ratio: results.RatioInterval | None) -> Json | None:
    """The limits at the best values, and their whole interval."""
    if ratio is None:
        return None
    return {**(band_json(ratio.band) or {}), "interval": band_json(ratio.whole)}


def _motion(motion: results.Motion | None) -> Json | None:
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


def _foreseen(foreseen: results.Foreseen | None) -> Json | None:
    if foreseen is None:
        return None
    return {
        "low": foreseen.low_deg,
        "high": foreseen.high_deg,
        **named(foreseen, "may_knock", "will_knock", "extrapolated"),
        "advice": advice_json(foreseen.advice),
    }


def _arrangement(watch: results.Watch, refused: Sequence[NotCovered]) -> Json:
    arrangement = watch.arrangement
    stopwork, end = arrangement.stopwork, arrangement.end
    return {
        "barrel": arrangement.kind.value,
        "winding": arrangement.winding.value,
        "stopwork": stopwork and named(stopwork, "turns", "set_up_turns"),
        "end": end and named(end, "name", "title"),
        "length_includes_end": watch.length_includes_end,
        "material": _material(watch.material),
        "found_material": watch.found_material and _material(watch.found_material),
        "train": watch.train and watch.train.text,
        "hours_per_turn": watch.hours_per_turn,
        "winding_train": watch.winding_train and watch.winding_train.text,
        "fusee": _estimates(watch.fusee),
        "refused": [
            {"asked": each.asked.value, **named(each, "reason", "hint")} for each in refused
        ],
    }


def _material(material: Material) -> Json:
    bands = {name: getattr(material, name) for name in _PROPERTIES}
    return {
        **named(material, "name", "title"),
        **{
            name: named(band, "low", "high", "source", "from_memory")
            for name, band in bands.items()
        },
    }


def _found_length(found: FoundLength | None) -> Json | None:
    """The length from the clues with every method and its weight."""
    if found is None:
        return None
    return {
        "value": found.length.value,
        "u": found.u_mm,
        "unit": "mm",
        "methods": [
            {
                "method": each.method.value,
                "value": each.value_mm,
                "u": each.u_mm,
                "weight": each.weight,
            }
            for each in found.methods
        ],
        "chi_squared": finite(found.chi_squared),
        "advice": advice_json(found.advice),
    }


def _finding(finding: results.Finding | None) -> Json | None:
    """The reading of the found spring with all its evidence."""
    if finding is None:
        return None
    return {
        "text": finding.text,
        "strength": _strength(finding.strength),
        "ask": finding.ask,
        "questions": [
            {
                "question": answer.question.value,
                "leaning": answer.leaning.value,
                "text": answer.text,
                "clues": [
                    {
                        **named(clue, "code", "seen"),
                        "speaks": clue.speaks.value,
                        "basis": clue.basis,
                    }
                    for clue in answer.clues
                ],
            }
            for answer in finding.answers
        ],
    }


def _strength(strength: FoundStrength | None) -> Json | None:
    """How much of its strength the found spring kept, and what would tell more."""
    if strength is None:
        return None
    return {
        "used": [sign.value for sign in strength.used],
        **named(strength, "u_part", "u_part_unseen", "p_tired"),
        "healthy_loose_coils": list(strength.healthy_loose),
        "healthy_free_per_bore": list(strength.healthy_extent),
        "next": [{"sign": sign.value, "u_part": u_part} for sign, u_part in strength.next],
    }
