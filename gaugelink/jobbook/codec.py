"""Events and acts as table rows and back again, exactly.

Bytes from the wire keep a column of their own; all else is JSON, in which a
float is its ``repr`` and so comes back bit for bit.

Facts as JSON and back again, exactly. These names stand in people's files.

The file format as tables: each kind, and the fields that its JSON holds.

These names stand in people's files, so none is changed without a new schema.

What the journal hands out, besides ``capture.job.JobRecord``.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, fields
from typing import Any, TypeAlias

from gaugelink.capture.acts import (
    Act,
    Completed,
    GaugeDone,
    Halted,
    MoreWanted,
    NotTaken,
    Repeated,
    Resumed,
    Skipped,
    Taken,
    Undone,
)
from gaugelink.capture.plan import JobSetup, Plan, Step
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
from gaugelink.model import (
    DepthReference,
    Fault,
    FaultKind,
    Flag,
    GaugeEvent,
    GaugeInfo,
    GaugeKind,
    Ident,
    LinkChange,
    Reading,
    Seek,
    Sends,
    UnitSwitch,
)
from gaugelink.units import LengthUnit

GAUGE, JOB = "gauge", "job"  # where a row comes from


class UnreadableRow(ValueError):
    """A row that this version did not write; the journal says which one it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """How an event (origin ``GAUGE``) or act (``JOB``) lies in the ``entry`` table."""

    origin: str
    kind: str
    raw: bytes | None
    detail: str


def encode(item: Item) -> Row:
    """Return the row that holds an event or act."""
    detail, raw = plain(item), None
    if isinstance(item, GaugeEvent):
        body = item.body
        detail["body"] = plain(body)
        raw = None if isinstance(body, LinkChange) else body.raw
        return Row(origin=GAUGE, kind=KIND_OF[type(body)], raw=raw, detail=_json(detail))
    if isinstance(item, Taken):
        detail["reading"], raw = plain(item.reading), item.reading.raw
    return Row(origin=JOB, kind=KIND_OF[type(item)], raw=raw, detail=_json(detail))


def decode(row: Row) -> Item:
    """Return the event or act that a row holds.

    Raises:
        UnreadableRow: unknown kind, or a field that is missing, unknown or wrong.
    """
    return decode_event(row) if row.origin == GAUGE else decode_act(row)


def decode_event(row: Row) -> GaugeEvent:
    """Return the event of a row whose origin is ``GAUGE``; raises as ``decode``."""
    cls = _class_of(row.kind, BODIES)
    with _unreadable(row.kind):
        values = json.loads(row.detail)
        body = made(cls, values.pop("body"), **_raw(row))
        event: GaugeEvent = made(GaugeEvent, values, body=body)
    return event


def decode_act(row: Row) -> Act:
    """Return the act of a row whose origin is ``JOB``; raises as ``decode``."""
    cls = _class_of(row.kind, ACTS)
    with _unreadable(row.kind):
        values, more = json.loads(row.detail), {}
        if cls is Taken:
            more["reading"] = made(Reading, values.pop("reading"), **_raw(row))
        act: Act = made(cls, values, **more)
    return act


def encode_gauge(info: GaugeInfo) -> str:
    """Return a gauge as JSON."""
    return _json(plain(info))


def decode_gauge(text: str) -> GaugeInfo:
    """Return the gauge that ``encode_gauge`` wrote; raises as ``decode``."""
    with _unreadable("gauge"):
        info: GaugeInfo = made(GaugeInfo, json.loads(text))
    return info


def encode_setup(setup: JobSetup) -> str:
    """Return a title and plan as JSON."""
    return _json(plain(setup))


def decode_setup(text: str) -> JobSetup:
    """Return the setup that ``encode_setup`` wrote; raises as ``decode``."""
    with _unreadable("setup"):
        setup: JobSetup = made(JobSetup, json.loads(text))
    return setup


def _nested(value: object) -> object:
    return sorted(value) if isinstance(value, frozenset) else plain(value)


# Made once, because json.dumps with options builds an encoder at every call.
# ASCII only: bytes that a terminal could not decode survive as escapes.
_json = json.JSONEncoder(separators=(",", ":"), default=_nested).encode


def _raw(row: Row) -> dict[str, bytes]:
    return {} if row.raw is None else {"raw": bytes(row.raw)}


def _class_of(kind: str, table: Mapping[str, type]) -> type:
    if kind not in table:
        raise UnreadableRow(f"unknown kind {kind!r}")
    return table[kind]


@contextmanager
def _unreadable(what: str) -> Iterator[None]:
    try:
        yield
    except (KeyError, TypeError, ValueError, AttributeError) as exc:
        raise UnreadableRow(f"{what}: {type(exc).__name__} {exc}") from exc


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
    return _fact_fields_json(
        {name: value for name, value in _plain(fact).items() if value is not None}
    )


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


def _fact_fields_nested(value: object) -> object:
    if isinstance(value, Amplitude):
        return {name: each for name, each in asdict(value).items() if each is not None}
    raise TypeError(f"{type(value).__name__} is no part of a fact")


_fact_fields_json = json.JSONEncoder(
    separators=(",", ":"), allow_nan=False, default=_fact_fields_nested
).encode


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
BODIES: dict[str, type] = {
    "reading": Reading,
    "fault": Fault,
    "ident": Ident,
    "link change": LinkChange,
    "unit switch": UnitSwitch,
}
ACTS: dict[str, type] = {
    "taken": Taken,
    "refused": NotTaken,
    "repeated": Repeated,
    "undone": Undone,
    "skipped": Skipped,
    "more wanted": MoreWanted,
    "completed": Completed,
    "halted": Halted,
    "resumed": Resumed,
    "gauge done": GaugeDone,
}
KIND_OF = {cls: kind for kind, cls in (BODIES | ACTS).items()}
_Fields: TypeAlias = Mapping[str, Callable[[Any], object]]


def plain(item: object) -> dict[str, Any]:
    """Return the fields of ``item`` that its JSON holds."""
    return {name: getattr(item, name) for name in _FIELDS_FIELDS[type(item)]}


def made(cls: type, values: Mapping[str, Any], **more: object) -> Any:
    """Return a ``cls`` from the values in its JSON and the fields that are kept elsewhere.

    Raises:
        KeyError, TypeError, ValueError: a field is unknown, missing or wrong.
    """
    fields = _FIELDS_FIELDS[cls]
    return cls(**{name: fields[name](value) for name, value in values.items()}, **more)


def _flags(values: Iterable[str]) -> frozenset[Flag]:
    return frozenset(map(Flag, values))


def _kinds(values: Iterable[str]) -> tuple[GaugeKind, ...]:
    return tuple(map(GaugeKind, values))


def _steps(values: Iterable[Mapping[str, Any]]) -> tuple[Step, ...]:
    return tuple(made(Step, value) for value in values)


def _plan(values: Mapping[str, Any]) -> Plan:
    plan: Plan = made(Plan, values)
    return plan


# Beside each name stands what turns its JSON value into the field again.
# Three fields are kept elsewhere: ``raw`` has a column of its own, and the codec
# puts in ``GaugeEvent.body`` and ``Taken.reading``, to which ``raw`` belongs.
_AT: _Fields = {"gauge_id": str, "elapsed_s": float}
_FIELDS_FIELDS: Mapping[type, _Fields] = {
    GaugeEvent: _AT,
    Reading: {
        "value_mm": float,
        "resolution_mm": float,
        "displayed": str,
        "unit": LengthUnit,
        "channel": str,
        "flags": _flags,
    },
    Fault: {"kind": FaultKind, "reason": str},
    Ident: {"text": str},
    LinkChange: {"connected": bool, "text": str},
    UnitSwitch: {"before": LengthUnit, "now": LengthUnit},
    Taken: {**_AT, "measurand": str, "note": str},
    NotTaken: {**_AT, "reason": str, "displayed": str},
    Repeated: {**_AT, "displayed": str},
    Undone: {**_AT, "measurand": str, "displayed": str},
    Skipped: {"gauge_id": str, "measurand": str},
    MoreWanted: {"gauge_id": str, "measurand": str, "wanted": int, "reason": str},
    Completed: {"gauge_id": str, "measurand": str, "n_readings": int},
    Halted: {"gauge_id": str, "reason": str},
    Resumed: {"gauge_id": str},
    GaugeDone: {"gauge_id": str},
    GaugeInfo: {
        "gauge_id": str,
        "kind": GaugeKind,
        "sends": Sends,
        "address": str,
        "format": str,
        "mpe_mm": float,
        "shift_mpe_mm": float,
        "mpe_source": str,
    },
    Step: {
        "measurand": str,
        "kinds": _kinds,
        "seek": Seek,
        "n_wanted": int,
        "low_mm": float,
        "high_mm": float,
        "instruction": str,
    },
    Plan: {"steps": _steps, "depth_reference": DepthReference},
    JobSetup: {"title": str, "plan": _plan},
}
Item: TypeAlias = GaugeEvent | Act


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLine:
    """One job in a list.

    ``n_taken`` counts every reading ever taken, zero checks included;
    ``n_standing`` leaves out those that were taken back.
    """

    job_id: int
    created_utc: str
    title: str
    closed: bool
    n_standing: int
    n_taken: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One stored event or act, for export.

    ``number`` counts from 1 within the job. ``written_utc`` is ISO 8601. ``raw``
    holds the bytes from the wire; None where none belong to it.
    """

    number: int
    written_utc: str
    kind: str
    raw: bytes | None
    item: Item
