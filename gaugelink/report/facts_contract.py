"""What is known of a job besides its readings, as JSON: extended over time, never renamed."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence

from gaugelink.jobbook.codec import NAME_OF, encode_fact
from gaugelink.jobbook.facts import StoredFact
from gaugelink.jobbook.predictions import Compared, Prediction, compare, fittings
from gaugelink.report.contract import SCHEMA
from gaugelink.report.figures_contract import Json


def facts_json(facts: Sequence[StoredFact]) -> Json:
    """Return the facts of one job, and what was foreseen beside what was seen, as JSON data."""
    found = fittings(facts)
    return {
        "facts": [_fact_json(stored) for stored in facts],
        "compared": [_compared_json(each) for fitting in found for each in compare(fitting)],
    }


def predictions_json(predictions: Iterable[Prediction], compared: Iterable[Compared]) -> Json:
    """Return how good the predictions were, with every comparison behind it, as JSON data."""
    return {
        "schema": SCHEMA,
        "predictions": [_prediction_json(each) for each in predictions],
        "compared": [_compared_json(each) for each in compared],
    }


def _fact_json(stored: StoredFact) -> Json:
    return {
        "number": stored.number,
        "written_utc": stored.written_utc,
        "fact": NAME_OF[type(stored.fact)],
        **json.loads(encode_fact(stored.fact)),
    }


def _compared_json(compared: Compared) -> Json:
    return {
        "job": compared.job_id,
        "figure": compared.name,
        "foreseen": {"low": compared.foreseen.low, "high": compared.foreseen.high},
        "seen": compared.seen,
        "ratio": compared.ratio,
        "inside": compared.is_inside,
    }


def _prediction_json(prediction: Prediction) -> Json:
    return {
        "figure": prediction.name,
        "n": prediction.n,
        "n_inside": prediction.n_inside,
        "median_ratio": prediction.median_ratio,
        "low_ratio": prediction.low_ratio,
        "high_ratio": prediction.high_ratio,
        "confidence": prediction.confidence,
        "quarter_ratio": prediction.quarter_ratio,
        "three_quarter_ratio": prediction.three_quarter_ratio,
        "tells_enough": prediction.tells_enough,
    }
