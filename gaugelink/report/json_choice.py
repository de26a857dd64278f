"""A choice from the stock as JSON: extended over time, never renamed."""

from __future__ import annotations

from gaugelink.choosing.choice import Choice, Decision, Pick, ReferenceSpring, Wish
from gaugelink.recommending.recommend import Recommendation
from gaugelink.report import json_sizing
from gaugelink.sizing.order import Order, Range


def choose_json(choice: Choice, job_id: int | None, answer: Recommendation) -> json_sizing.Json:
    """Return a choice as JSON data.

    ``job_id`` is None for typed values.
    """
    least_bad = choice.least_bad
    return {
        "schema": json_sizing.SCHEMA,
        "job": job_id,
        "coverage": choice.coverage,
        "recommendation": json_sizing.recommendation_json(answer),
        "height": json_sizing.optional_json(choice.limit),
        "height_from_depth": choice.limit_from_depth,
        "reference": _reference(choice.reference),
        **_wish(choice.wish),
        "picks": [_pick(pick) for pick in choice.picks],
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
        "decision": _decision(choice.decision),
        "nothing_fits": not choice.picks,
        "least_bad": None
        if least_bad is None
        else json_sizing.named(least_bad, "item", "score", "text"),
        "order": None if choice.order is None else _order(choice.order),
        "warnings": json_sizing.advice_json(choice.warnings),
    }


def _pick(pick: Pick) -> json_sizing.Json:
    """A spring that may be fitted; ``hours`` are of the usable turns."""
    spring = pick.spring
    return {
        "item": spring.item,
        "height": spring.height_mm,
        "thickness": spring.thickness_mm,
        "length": spring.length_mm,
        "cut_to": pick.cut_to_mm,
        **json_sizing.named(spring, "end", "material", "on_hand"),
        **json_sizing.named(pick, "score", "probability_fits", "probability_goes_in"),
        "turns": json_sizing.estimate_json(pick.turns),
        "turns_usable": json_sizing.estimate_json(pick.turns_usable),
        "hours": json_sizing.optional_json(pick.hours),
        "hours_to_stop": json_sizing.optional_json(pick.hours_to_stop),
        "fill": json_sizing.estimate_json(pick.fill),
        "torque_ratio": json_sizing.band_json(pick.torque_ratio),
        "new_over_found": json_sizing.band_json(pick.torque_to_found),
        "amplitude": json_sizing.band_json(pick.amplitude_deg),
        "wish": None if pick.reach is None else pick.reach.value,
        "reasons": [reason.text for reason in pick.reasons],
        "costs": [json_sizing.named(reason, "text", "points") for reason in pick.reasons],
        "warnings": json_sizing.advice_json(pick.warnings),
    }


def _wish(wish: Wish | None) -> json_sizing.Json:
    """The amplitude wished for and what it takes, under the names that a sizing uses."""
    return {
        "wished_amplitude": wish.amplitude_deg if wish else None,
        "wished_torque_ratio": json_sizing.band_json(wish.takes.torque_ratio) if wish else None,
        "wished_thickness": json_sizing.band_json(wish.takes.thickness_mm) if wish else None,
    }


def _reference(reference: ReferenceSpring) -> json_sizing.Json:
    return {
        "kind": str(reference.kind),
        "text": reference.text,
        "height": reference.height_mm,
        "thickness": reference.thickness_mm,
        "length": reference.length_mm,
    }


def _decision(decision: Decision | None) -> json_sizing.Json:
    if decision is None:
        return {"stability": None, "better_measured": []}
    return {
        "stability": decision.stability,
        "better_measured": [
            json_sizing.named(each, "input", "gain", "right", "text")
            for each in decision.better_measured
        ],
        **json_sizing.named(decision, "stability_with_strip", "gain_of_all"),
        "rivals": [json_sizing.named(rival, "item", "share") for rival in decision.rivals],
        **json_sizing.named(decision, "contenders", "draws", "seed"),
    }


def _order(order: Order) -> json_sizing.Json:
    return {
        "height": None if order.height is None else _range(order.height),
        "thickness": _range(order.thickness),
        "length": _range(order.length),
        "end": order.end,
    }


def _range(wanted: Range) -> json_sizing.Json:
    return json_sizing.named(wanted, "target", "low", "high")
