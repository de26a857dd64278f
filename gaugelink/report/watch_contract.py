"""Arrangement, found length and finding as JSON data: part of the contract of ``size --json``."""

from __future__ import annotations

from collections.abc import Sequence

from gaugelink.mechanics.band import SourcedBand
from gaugelink.mechanics.found_length import FoundLength
from gaugelink.mechanics.materials import Material
from gaugelink.mechanics.train import Train
from gaugelink.report.figures_contract import Json, finite
from gaugelink.report.mechanics_contract import advice_json
from gaugelink.sizing.covered import Refused
from gaugelink.sizing.finding import Finding
from gaugelink.sizing.results import Watch

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
