"""The JSON that other programs may rely on: extended over time, never renamed."""

from __future__ import annotations

from collections.abc import Sequence

from gaugelink.report.figures_contract import (
    Json,
    band_json,
    estimate_json,
    finite,
    optional_json,
)
from gaugelink.report.mechanics_contract import mechanics_json, motion_json, ratio_json
from gaugelink.report.watch_contract import arrangement_json, finding_json, found_length_json
from gaugelink.sizing.results import (
    ComparedSpring,
    RuleDistance,
    RuleResult,
    SizeResult,
    SpringFigures,
)
from gaugelink.uncertainty.estimate import BudgetRow

__all__ = ["SCHEMA", "Json", "estimate_json", "size_json"]

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
