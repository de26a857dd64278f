"""The JSON that other programs may rely on: extended over time, never renamed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, TypeAlias

from gaugelink.sizing.results import (
    Band,
    ComparedSpring,
    RuleDistance,
    RuleResult,
    SizeResult,
    SpringFigures,
)
from gaugelink.uncertainty.estimate import BudgetRow, Estimate

SCHEMA = 1

Json: TypeAlias = dict[str, Any]

_FIGURES = (
    "height",
    "thickness",
    "length",
    "fill",
    "turns",
    "turns_spiral",
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
        "height": _optional(result.height),
        "rules": [_rule_json(rule) for rule in result.rules],
        "found": _compared_json(result.found),
        "documented": _compared_json(result.documented),
        "budget": _budget_json(result.budget),
        "warnings": [{"code": w.code, "text": w.text} for w in result.warnings],
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


def estimate_json(estimate: Estimate) -> Json:
    """Return an estimate as JSON data."""
    return {
        "value": estimate.value,
        "u": estimate.u,
        "dof": _finite(estimate.dof),
        "unit": estimate.unit,
        "low": estimate.low,
        "high": estimate.high,
    }


def _optional(estimate: Estimate | None) -> Json | None:
    return None if estimate is None else estimate_json(estimate)


def _figures_json(figures: SpringFigures) -> Json:
    return {name: _optional(getattr(figures, name)) for name in _FIGURES}


def _rule_json(rule: RuleResult) -> Json:
    return {"rule": rule.rule, "basis": rule.basis, **_figures_json(rule.figures)}


def _compared_json(spring: ComparedSpring | None) -> Json | None:
    if spring is None:
        return None
    return {
        **_figures_json(spring.figures),
        "torque_ratio": _band_json(spring.torque_ratio),
        "torque_at_limit": _optional(spring.torque_at_limit),
        "torque_of_equal_shape": _optional(spring.torque_of_equal_shape),
        "torque_reference": spring.torque_reference,
        "distances": [_distance_json(d) for d in spring.distances],
    }


def _band_json(band: Band | None) -> Json | None:
    return None if band is None else {"low": band.low, "high": band.high}


def _distance_json(distance: RuleDistance) -> Json:
    return {
        "rule": distance.rule,
        "output": distance.output,
        "difference": distance.difference,
        "u": distance.u,
        "in_u": _finite(distance.in_u),
    }


def _budget_json(rows: Sequence[BudgetRow]) -> list[Json]:
    return [
        {
            "output": row.output,
            "input": row.influence,
            "kind": row.kind,
            "u": row.u,
            "dof": _finite(row.dof),
            "sensitivity": row.sensitivity,
            "contribution": row.contribution,
            "share": row.share,
        }
        for row in rows
    ]


def _finite(number: float) -> float | None:
    return number if math.isfinite(number) else None
