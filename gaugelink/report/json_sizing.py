"""The JSON that other programs may rely on: extended over time, never renamed.

Single figures as JSON data: estimates, bands, numbers that may be infinite.

What the torque model says, as JSON data: part of the contract of ``size --json``.

Arrangement, found length and finding as JSON data: part of the contract of ``size --json``.

A choice as JSON: extended over time, never renamed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any, TypeAlias

from gaugelink.choosing.case import Wish
from gaugelink.choosing.results import (
    Choice,
    Decision,
    LeastBad,
    Order,
    Pick,
    Range,
    ReferenceSpring,
)
from gaugelink.mechanics.band import Band, SourcedBand
from gaugelink.mechanics.found_length import FoundLength
from gaugelink.mechanics.materials import Material
from gaugelink.mechanics.train import Train
from gaugelink.model import Advice
from gaugelink.sizing.covered import Refused
from gaugelink.sizing.finding import Finding
from gaugelink.sizing.results import (
    ComparedSpring,
    Foreseen,
    Motion,
    RatioInterval,
    RuleDistance,
    RuleResult,
    SizeResult,
    SpringFigures,
    TorqueModel,
    Watch,
)
from gaugelink.uncertainty.estimate import BudgetRow, Estimate

SCHEMA = 1
_FIGURES = (
    "height",
    "thickness",
    "length",
    "fill",
    "turns",
    "turns_spiral",
    "turns_usable",
    "coils_down",
    "coils_wound",
    "hours",
)


def size_json(result: SizeResult) -> Json:
    """Return a sizing result as JSON data; infinite degrees of freedom are null."""
    return {
        "schema": SCHEMA,
        "coverage": result.coverage,
        "inputs": {e.label: estimate_json(e) for e in result.inputs},
        "height": optional_json(result.height),
        "rules": [_rule_json(rule) for rule in result.rules],
        "found": _compared_json(result.found),
        "documented": _compared_json(result.documented),
        "budget": _budget_json(result.budget),
        "warnings": [{"code": w.code, "text": w.text} for w in result.warnings],
        "arrangement": arrangement_json(result.watch, result.refused),
        "motion": motion_json(result.motion),
        "found_length": found_length_json(result.found_length),
        "finding": finding_json(result.finding),
        "draws": result.draws,
        "seed": result.seed,
        "disagreements": [
            {
                "output": d.output,
                "low_difference": d.low_difference,
                "high_difference": d.high_difference,
                "tolerance": d.tolerance,
            }
            for d in result.disagreements
        ],
    }


def _figures_json(figures: SpringFigures) -> Json:
    return {
        **{name: optional_json(getattr(figures, name)) for name in _FIGURES},
        "mechanics": mechanics_json(figures.torque_model),
    }


def _rule_json(rule: RuleResult) -> Json:
    return {"rule": rule.rule, "basis": rule.basis, **_figures_json(rule.figures)}


def _compared_json(spring: ComparedSpring | None) -> Json | None:
    if spring is None:
        return None
    return {
        **_figures_json(spring.figures),
        "torque_ratio": band_json(spring.torque_ratio),
        "torque_at_limit": optional_json(spring.torque_at_limit),
        "torque_of_equal_shape": optional_json(spring.torque_of_equal_shape),
        "torque_reference": spring.torque_reference,
        "ratio_full_wind": ratio_json(spring.ratio_full),
        "ratio_after_24h": ratio_json(spring.ratio_day),
        "distances": [_distance_json(d) for d in spring.distances],
    }


def _distance_json(distance: RuleDistance) -> Json:
    return {
        "rule": distance.rule,
        "output": distance.output,
        "difference": distance.difference,
        "u": distance.u,
        "in_u": finite(distance.in_u),
    }


def _budget_json(rows: Sequence[BudgetRow]) -> list[Json]:
    return [
        {
            "output": row.output,
            "input": row.influence,
            "kind": row.kind,
            "u": row.u,
            "dof": finite(row.dof),
            "sensitivity": row.sensitivity,
            "contribution": row.contribution,
            "share": row.share,
        }
        for row in rows
    ]


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


_MECHANICS_CONTRACT_FIGURES = (
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
        **{name: optional_json(getattr(model, name)) for name in _MECHANICS_CONTRACT_FIGURES},
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


_PROPERTIES = ("modulus_gpa", "density_g_cm3", "yield_mpa", "full_wind_stress_mpa")


def arrangement_json(watch: Watch, refused: Sequence[Refused]) -> Json:
    """Return what was said of the watch, and what no rule covers for it."""
    arrangement = watch.arrangement
    stopwork, end = arrangement.stopwork, arrangement.end
    return {
        "barrel": arrangement.kind.value,
        "winding": arrangement.winding.value,
        "stopwork": stopwork and {"turns": stopwork.turns, "set_up_turns": stopwork.set_up_turns},
        "end": end and {"name": end.name, "title": end.title},
        "length_includes_end": watch.length_includes_end,
        "material": _material_json(watch.material),
        "train": _train_json(watch.train),
        "hours_per_turn": watch.hours_per_turn,
        "winding_train": _train_json(watch.winding_train),
        "refused": [
            {"asked": each.asked.value, "reason": each.reason, "hint": each.hint}
            for each in refused
        ],
    }


def found_length_json(found: FoundLength | None) -> Json | None:
    """Return the length from the clues with every method and its weight."""
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


def finding_json(finding: Finding | None) -> Json | None:
    """Return the reading of the found spring with all its evidence."""
    if finding is None:
        return None
    return {
        "text": finding.text,
        "questions": [
            {
                "question": answer.question.value,
                "leaning": answer.leaning.value,
                "text": answer.text,
                "clues": [
                    {
                        "code": clue.code,
                        "seen": clue.seen,
                        "speaks": clue.speaks.value,
                        "basis": clue.basis,
                    }
                    for clue in answer.clues
                ],
            }
            for answer in finding.answers
        ],
    }


def _material_json(material: Material) -> Json:
    return {
        "name": material.name,
        "title": material.title,
        **{name: _sourced_json(getattr(material, name)) for name in _PROPERTIES},
    }


def _sourced_json(band: SourcedBand) -> Json:
    return {
        "low": band.low,
        "high": band.high,
        "source": band.source,
        "from_memory": band.from_memory,
    }


def _train_json(train: Train | None) -> str | None:
    return None if train is None else train.text


def choose_json(choice: Choice, job_id: int | None) -> Json:
    """Return a choice as JSON data.

    Args:
        choice: what was found.
        job_id: number of the job that it is for; None for typed values.
    """
    return {
        "schema": SCHEMA,
        "job": job_id,
        "coverage": choice.coverage,
        "height": optional_json(choice.limit),
        "height_from_depth": choice.limit_from_depth,
        "reference": _reference_json(choice.reference),
        **_wish_json(choice.wish),
        "picks": [pick_json(pick) for pick in choice.picks],
        "ranked": choice.ranked,
        "stock_size": choice.stock_size,
        "refused": [
            {
                "item": refused.item,
                "reasons": list(refused.reasons),
                "why": [why.value for why in refused.why],
            }
            for refused in choice.refused
        ],
        "decision": _decision_json(choice.decision),
        "nothing_fits": not choice.picks,
        "least_bad": _least_bad_json(choice.least_bad),
        "order": _order_json(choice.order),
        "warnings": _advice_json(choice.warnings),
    }


def pick_json(pick: Pick) -> Json:
    """Return a spring that may be fitted as JSON data; ``hours`` are of the usable turns."""
    spring = pick.spring
    return {
        "item": spring.item,
        "height": spring.height_mm,
        "thickness": spring.thickness_mm,
        "length": spring.length_mm,
        "cut_to": pick.cut_to_mm,
        "end": spring.end,
        "material": spring.material,
        "on_hand": spring.on_hand,
        "score": pick.score,
        "probability_fits": pick.probability_fits,
        "turns": estimate_json(pick.turns),
        "turns_usable": estimate_json(pick.turns_usable),
        "hours": optional_json(pick.hours),
        "fill": estimate_json(pick.fill),
        "torque_ratio": band_json(pick.torque_ratio),
        "amplitude": band_json(pick.amplitude_deg),
        "wish": None if pick.reach is None else pick.reach.value,
        "reasons": [reason.text for reason in pick.reasons],
        "costs": [{"text": reason.text, "points": reason.points} for reason in pick.reasons],
        "warnings": _advice_json(pick.warnings),
    }


def _wish_json(wish: Wish | None) -> Json:
    """Return the amplitude wished for and what it takes, under the names that ``size`` uses."""
    return {
        "wished_amplitude": wish.amplitude_deg if wish else None,
        "wished_torque_ratio": band_json(wish.takes.torque_ratio) if wish else None,
        "wished_thickness": band_json(wish.takes.thickness_mm) if wish else None,
    }


def _reference_json(reference: ReferenceSpring) -> Json:
    return {
        "kind": str(reference.kind),
        "text": reference.text,
        "height": reference.height_mm,
        "thickness": reference.thickness_mm,
        "length": reference.length_mm,
    }


def _decision_json(decision: Decision | None) -> Json:
    if decision is None:
        return {"stability": None, "better_measured": []}
    return {
        "stability": decision.stability,
        "better_measured": [
            {"input": each.input, "gain": each.gain, "right": each.right, "text": each.text}
            for each in decision.better_measured
        ],
        "stability_with_strip": decision.stability_with_strip,
        "gain_of_all": decision.gain_of_all,
        "rivals": [{"item": rival.item, "share": rival.share} for rival in decision.rivals],
        "contenders": decision.contenders,
        "draws": decision.draws,
        "seed": decision.seed,
    }


def _least_bad_json(least_bad: LeastBad | None) -> Json | None:
    if least_bad is None:
        return None
    return {"item": least_bad.item, "score": least_bad.score, "text": least_bad.text}


def _order_json(order: Order) -> Json:
    return {
        "height": None if order.height is None else _range_json(order.height),
        "thickness": _range_json(order.thickness),
        "length": _range_json(order.length),
        "end": order.end,
    }


def _range_json(wanted: Range) -> Json:
    return {"target": wanted.target, "low": wanted.low, "high": wanted.high}


def _advice_json(advice: Iterable[Advice]) -> list[Json]:
    return [{"code": each.code, "text": each.text} for each in advice]
