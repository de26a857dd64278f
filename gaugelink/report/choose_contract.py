"""A choice as JSON: extended over time, never renamed."""

from __future__ import annotations

from collections.abc import Iterable

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
from gaugelink.model import Advice
from gaugelink.report.contract import SCHEMA
from gaugelink.report.figures_contract import Json, band_json, estimate_json, optional_json


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
