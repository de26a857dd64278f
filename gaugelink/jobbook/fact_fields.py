"""Facts as JSON and back again, exactly. These names stand in people's files."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, fields
from typing import Any, TypeAlias

from gaugelink.jobbook.codec import UnreadableRow
from gaugelink.jobbook.facts import (
    After,
    Amplitude,
    ChoiceVersion,
    Chosen,
    Fact,
    Movement,
    Note,
    Photograph,
    Position,
    Reference,
    SizeVersion,
    Span,
    TrainData,
    Wind,
)

_Convert: TypeAlias = Callable[[Any], object]

FACTS: dict[str, type] = {
    "movement": Movement,
    "reference": Reference,
    "photograph": Photograph,
    "note": Note,
    "train": TrainData,
    "size": SizeVersion,
    "choice": ChoiceVersion,
    "chosen": Chosen,
    "after": After,
}
NAME_OF = {cls: name for name, cls in FACTS.items()}


def encode_fact(fact: Fact) -> str:
    """Return a fact as JSON; what it leaves open is left out."""
    return _json({name: value for name, value in _plain(fact).items() if value is not None})


def decode_fact(name: str, detail: str) -> Fact:
    """Return the fact that ``encode_fact`` wrote under a name.

    Raises:
        UnreadableRow: unknown name, or a field that is missing, unknown or wrong.
    """
    if name not in FACTS:
        raise UnreadableRow(f"unknown fact {name!r}")
    try:
        fact: Fact = _made(FACTS[name], json.loads(detail))
    except (KeyError, TypeError, ValueError, AttributeError) as exc:
        raise UnreadableRow(f"{name}: {type(exc).__name__} {exc}") from exc
    return fact


def _plain(fact: Fact) -> dict[str, Any]:
    if isinstance(fact, SizeVersion | ChoiceVersion):  # a result keeps its nulls
        return {"result": fact.result, "software": fact.software}
    values = {field.name: getattr(fact, field.name) for field in fields(fact)}
    return {
        name: asdict(value) if isinstance(value, Span) else value for name, value in values.items()
    }


def _nested(value: object) -> object:
    if isinstance(value, Amplitude):
        return {name: each for name, each in asdict(value).items() if each is not None}
    raise TypeError(f"{type(value).__name__} is no part of a fact")


_json = json.JSONEncoder(separators=(",", ":"), allow_nan=False, default=_nested).encode


def _made(cls: type, values: Mapping[str, Any]) -> Any:
    converts = _FIELDS[cls]
    return cls(**{name: converts[name](value) for name, value in values.items()})


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r} is no text")
    return value


def _result(value: object) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise TypeError("a result is no object")
    return value


def _span(values: Mapping[str, Any]) -> Span:
    return Span(low=float(values["low"]), high=float(values["high"]))


def _amplitudes(values: list[Mapping[str, Any]]) -> tuple[Amplitude, ...]:
    return tuple(_made(Amplitude, each) for each in values)


_TEXT: Mapping[str, _Convert] = {"text": _text}
_VERSION: Mapping[str, _Convert] = {"result": _result, "software": _text}
_LAY: Mapping[str, _Convert] = {"position": Position, "wind": Wind}
_FIELDS: Mapping[type, Mapping[str, _Convert]] = {
    Movement: _TEXT,
    Reference: _TEXT,
    Note: _TEXT,
    Photograph: {"path": _text},
    TrainData: {"teeth": _text, "hours_per_turn": float},
    SizeVersion: _VERSION,
    ChoiceVersion: _VERSION,
    Chosen: {
        "item": _text,
        **dict.fromkeys(("height_mm", "thickness_mm", "length_mm"), float),
        **dict.fromkeys(("turns", "crown_turns", "hours", "torque_ratio"), _span),
        "amplitude_deg": _span,
        **_LAY,
    },
    Amplitude: {"deg": float, **_LAY},
    After: {"crown_turns": float, "hours_run": float, "amplitudes": _amplitudes, "noise": _text},
}
